"""Dossiers drawn in one world and weighed in another: the work itself, any stretch of it alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np

from ...chronology import NothingPossible, Workspace, assumptions_in_force, brief
from ...chronology.workspace import Same
from ...dossier import parse_dossier
from ...dossier.types import Dossier
from ...marks import MarkReading, Seen, Tables, read_mark
from ...reference.types import Reference
from ..simulation import Simulator, Truth, Twist
from .record import Record, Records, record_of
from .rules import rule_years, years_made
from .scenarios import BY_ID, Mend, Scenario, stream


@dataclass(frozen=True, slots=True)
class Job:
    """One world with one set of packs: which dossiers are drawn, and what they are weighed with.

    ``packs``: the maker's packs, none for what holds of any amp; ``scenario``: by id; ``seed``: as
    given, every job has a stream of its own; ``mend``: which of the scenario's mends the engine is
    given (the dossiers stay the same), None for the packs' values.
    """

    packs: tuple[str, ...]
    scenario: str
    seed: int
    as_of: date
    mend: int | None = None

    @property
    def world(self) -> Scenario:
        return BY_ID[self.scenario]

    @property
    def mended(self) -> Mend | None:
        return None if self.mend is None else self.world.mends[self.mend]

    @property
    def stream(self) -> int:
        return stream(self.seed, ",".join(self.packs), self.scenario)

    @property
    def name(self) -> str:
        """'none/lags-half', 'brackwater/as-stated', 'none/lags-half/mend-0'."""
        mend = "" if self.mend is None else f"/mend-{self.mend}"
        return f"{','.join(self.packs) or 'none'}/{self.scenario}{mend}"


class Drawing:
    """A job's dossiers: drawn by their number, weighed, and the record of each.

    ``weighed_with`` (None: the packs' values, mended if the job says so) and ``reference_weighed``
    are what the engine believes; tests give it what is wrong.
    """

    def __init__(
        self,
        job: Job,
        reference: Reference,
        workspace: Workspace | None = None,
        *,
        weighed_with: Mapping[str, float] | None = None,
        reference_weighed: Reference | None = None,
    ) -> None:
        self.job = job
        self.reference = reference
        self.believed = reference_weighed or reference
        self.workspace = workspace or Workspace()
        values = assumptions_in_force(reference, {})
        self._values = values
        self._assume = {**values, **(weighed_with or {})}
        if job.mended is not None:
            self._assume = job.mended.applied(self._assume)
        self._simulator = Simulator(
            reference,
            job.world.drawn_with(values),
            packs=job.packs,
            as_of=job.as_of,
            twist=Twist(**job.world.twist),  # type: ignore[arg-type]
        )

    @cached_property
    def _made(self) -> np.ndarray:
        return years_made(self.reference, self.job.as_of)

    def drawn(self, i: int) -> tuple[Dossier, Truth]:
        """Dossier number ``i`` of the job, read as any file is, and its truth."""
        drawn = self._simulator.draw(self.job.stream, i)
        dossier = parse_dossier(
            drawn.text, lambda _: self.reference, today=self.job.as_of, file=f"{drawn.id}.toml"
        )
        return dossier, drawn.truth

    def record(self, i: int) -> Record:
        """Draw, weigh, keep; raises what the engine raises."""
        dossier, truth = self.drawn(i)
        found = brief(dossier, self.believed, self._assume, workspace=self.workspace)
        rules = rule_years(dossier, self.reference, self._values, self._made, self._read)
        v = np.random.default_rng([self.job.stream, i, 1]).random()
        return record_of(i, truth, found, rules, v)

    def records(self, start: int, stop: int) -> Records:
        """Dossiers ``start`` to ``stop - 1``; one that can't be weighed is noted, never hidden."""
        done: list[Record] = []
        failed: list[int] = []
        for i in range(start, stop):
            try:
                done.append(self.record(i))
            except NothingPossible:
                failed.append(i)
        return Records.of(done, failed)

    def _read(self, seen: Seen, tables: Tables) -> MarkReading:
        key = ("read", seen, Same(self.reference))  # as the engine keeps it: read once for both
        return self.workspace.get(key, lambda: read_mark(seen, tables))
