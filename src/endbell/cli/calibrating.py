"""Many drawn dossiers weighed on every core, in chunks that are kept: what is done is done once."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..batch.code import WEIGHING, code_mark
from .errors import CommandError
from .say import bars

if TYPE_CHECKING:
    from ..learning.calibration import Job, Records
    from ..reference.types import PackStamp

CHUNK = 100
FIGURES_REST_ON = (*WEIGHING, "learning")
"""Rooms whose code the records depend on: another code's records are not taken up again."""


class Bench:
    """What a worker keeps: packs, simulators and tables; called with a job and a stretch of it."""

    def __init__(self, search: tuple[Path, ...]) -> None:
        from ..chronology import Workspace

        self._search = search
        self._workspace = Workspace()
        self._kept: dict[Job, Any] = {}

    def __call__(self, chunk: tuple[Job, int, int]) -> Records:
        from ..learning.calibration import Drawing
        from ..reference import load_reference

        job, start, stop = chunk
        if job not in self._kept:
            reference, _ = load_reference(job.packs, self._search)
            self._kept = {job: Drawing(job, reference, self._workspace)}
        return self._kept[job].records(start, stop)


class Work:
    """The folder of finished chunks: each is whole or not there, and never changed."""

    def __init__(self, folder: Path, stamps: Mapping[tuple[str, ...], Sequence[PackStamp]]) -> None:
        self.folder = folder
        self._stamps = stamps
        self._code = code_mark(*FIGURES_REST_ON)

    def place(self, job: Job, start: int, stop: int) -> Path:
        """The file of a chunk; its folder's name changes with whatever its records depend on."""
        rests_on = {
            "code": self._code,
            "job": asdict(job),
            "world": asdict(job.world),
            "packs": [asdict(stamp) for stamp in self._stamps[job.packs]],
        }
        text = json.dumps(rests_on, sort_keys=True, default=str)
        mark = hashlib.sha256(text.encode()).hexdigest()[:12]
        name = job.name.replace("/", ".").replace(",", "+")
        return self.folder / f"{name}-{mark}" / f"{start:07d}-{stop - 1:07d}.npz"

    def write(self, place: Path, records: Records) -> None:
        import numpy as np

        place.parent.mkdir(parents=True, exist_ok=True)
        unfinished = place.with_suffix(f".{os.getpid()}.part")
        with unfinished.open("wb") as file:
            np.savez(file, **records.arrays())  # type: ignore[arg-type]
        unfinished.replace(place)

    def read(self, place: Path) -> Records:
        import numpy as np

        from ..learning.calibration import Records

        with np.load(place, allow_pickle=False) as kept:
            return Records(**{name: kept[name] for name in kept.files})


def run_jobs(
    jobs: Mapping[Job, int], work: Work, search: Sequence[Path], workers: int, words: str
) -> dict[Job, Records]:
    """The records of the first ``jobs[job]`` dossiers of every job; none is weighed twice."""
    from ..batch.pool import PoolError, run_chunks
    from ..learning.calibration import Records

    stretches = {
        job: [(start, min(start + CHUNK, n)) for start in range(0, n, CHUNK)]
        for job, n in jobs.items()
    }
    places = {
        (job, start, stop): work.place(job, start, stop)
        for job, several in stretches.items()
        for start, stop in several
    }
    left = [key for key, place in places.items() if not place.exists()]
    done = sum(stop - start for _, start, stop in places.keys() - set(left))
    try:
        with bars() as bar:
            task = bar.add_task(words, total=sum(jobs.values()), completed=done)
            results = run_chunks(Bench, ((key, key) for key in left), workers, (tuple(search),))
            for key, records in results:
                work.write(places[key], records)
                bar.advance(task, key[2] - key[1])
    except PoolError as error:
        raise CommandError(f"{error}; what is done is kept in {work.folder}") from None
    except KeyboardInterrupt:
        raise CommandError(
            f"stopped; what is done is kept in {work.folder}, the same command goes on from there"
        ) from None
    return {
        job: Records.joined([work.read(places[job, start, stop]) for start, stop in several])
        for job, several in stretches.items()
    }
