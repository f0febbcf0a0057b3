"""Dossiers for the clock, dealt out by the simulator: so many marks each, any number of them."""

from __future__ import annotations

import io
import tarfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from endbell.batch.pool import run_chunks
from endbell.chronology import assumptions_in_force
from endbell.learning.simulation import Simulator
from endbell.reference import load_reference

AS_OF = date(2026, 3, 2)
CHUNK = 250


@dataclass(frozen=True)
class Deal:
    """Which dossiers: drawn with ``seed`` from ``packs``, kept with ``least`` to ``most`` marks."""

    packs: tuple[str, ...] = ("brackwater",)
    least: int = 12
    most: int = 12
    seed: int = 1


class Drawer:
    """Draws a range of dossiers and keeps those that have as many marks as wanted."""

    def __init__(self, deal: Deal) -> None:
        reference, _ = load_reference(deal.packs)
        self._deal = deal
        self._simulator = Simulator(
            reference, assumptions_in_force(reference, {}), packs=deal.packs, as_of=AS_OF
        )

    def __call__(self, chunk: Sequence[int]) -> list[tuple[str, str]]:
        drawn = (self._simulator.draw(self._deal.seed, i) for i in chunk)
        wanted = range(self._deal.least, self._deal.most + 1)
        return [(d.id, d.text) for d in drawn if d.text.count("[[mark]]") in wanted]


def dealt(deal: Deal, count: int, workers: int) -> Iterator[tuple[str, str]]:
    """``count`` dossiers, id and text; the same ones whatever the number of workers."""
    first = iter(range(0, 10**9, CHUNK))
    chunks = ((n, range(n, n + CHUNK)) for n in first)
    held: dict[int, list[tuple[str, str]]] = {}
    due, given = 0, 0
    for key, found in run_chunks(Drawer, chunks, workers, (deal,)):
        held[key] = found
        while due in held:
            for one in held.pop(due):
                if given == count:
                    return
                given += 1
                yield one
            due += CHUNK


def tar_of(deal: Deal, count: int, folder: Path, workers: int) -> Path:
    """The dossiers as a tar in ``folder``; one that is there already is taken as it is."""
    packs = "-".join(deal.packs) or "none"
    file = folder / f"{packs}-{deal.least}-{deal.most}-{deal.seed}-{count}.tar"
    if not file.exists():
        part = file.with_suffix(".part")
        with tarfile.open(part, "w") as archive:
            # a few are drawn sooner than a process is started
            for name, text in dealt(deal, count, workers if count > CHUNK else 0):
                data = text.encode()
                info = tarfile.TarInfo(f"{name}.toml")
                info.size = len(data)
                archive.addfile(info, io.BytesIO(data))
        part.rename(file)
    return file
