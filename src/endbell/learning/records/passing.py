"""A pass over dossiers at some values: each weighed whole, its slope taken."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ...chronology import Workspace
from ...chronology.expected import expected
from ...chronology.weighing import Posterior, posterior
from ...dossier.types import Dossier
from .parameters import Space, joined
from .scores import Score, Scorer
from .serial import SerialRecord, serial_records
from .subjects import Subjects
from .sums import Sums

Array = NDArray[np.float64]
ROOM = 192 * 2**20  # bytes that a worker may keep
NATS_FEWER = 12.0
"""Weeks that a verdict sums are left out here from exp(12) times higher on: below exp(-18) of the
likeliest, all of them change the log evidence of a dossier by a few millionths."""


@dataclass(frozen=True, slots=True)
class Record:
    """A dossier, and how often its pattern comes."""

    dossier: Dossier
    times: int = 1


class Pass:
    """Dossiers of one set of packs, weighed at one set of values."""

    def __init__(self, subjects: Subjects, theta: Array, room: int = ROOM) -> None:
        self.subjects = subjects
        self.reference, self.assume = subjects.applied(theta)
        self.workspace = Workspace(room)
        self.scorer = Scorer(subjects)
        self.serials: list[SerialRecord] = []

    def sums(self, records: Sequence[Record], *, serials: bool = False) -> Sums:
        """The sums over dossiers; with ``serials`` their serial numbers are put down as well."""
        scores, evidence, counts = list[Score](), list[float](), list[int]()
        impossible = 0
        for record in records:
            post = self.posterior(record.dossier)
            if not np.isfinite(post.joint.log_evidence):
                impossible += record.times
                continue
            scores.append(self.scorer.score(expected(post), post.setting))
            evidence.append(post.joint.log_evidence)
            counts.append(record.times)
            if serials:
                ranges = self.subjects.reference.tables.serials
                self.serials += serial_records(post, ranges, record.times)
        size = self.subjects.space.size
        found = Sums.of(scores, evidence, counts) if scores else Sums.nothing(size)
        return replace(found, impossible=impossible)

    def posterior(self, dossier: Dossier) -> Posterior:
        """A dossier at these values."""
        return posterior(
            dossier, self.reference, self.assume, workspace=self.workspace, slack=-NATS_FEWER
        )


@dataclass(frozen=True)
class Course:
    """What the sets of packs that dossiers name leave to be learned, all together."""

    subjects: Mapping[tuple[str, ...], Subjects]

    @property
    def space(self) -> Space:
        """The parameters of all of them."""
        return joined([s.space for s in self.subjects.values()])

    def disagreement(self) -> str | None:
        """A number that two sets of packs give different values, if any: it has no one value to
        start from.
        """
        seen: dict[str, object] = {}
        for subjects in self.subjects.values():
            for p in (*subjects.space.scalars, *subjects.space.simplices):
                if seen.setdefault(p.name, p) != p:
                    return p.name
        return None

    def places(self, packs: tuple[str, ...], space: Space) -> NDArray[np.intp]:
        """Where the parameters of one set of packs stand among all."""
        mine, every = self.subjects[packs].space, space.place()
        out = [every[s.name] for s in mine.scalars]
        for s in mine.simplices:
            out += range(every[s.name], every[s.name] + len(s.members) - 1)
        return np.array(out, dtype=np.intp)


class Passes:
    """A pass over dossiers of any of the sets of packs."""

    def __init__(self, course: Course, theta: Array) -> None:
        self.course, self.theta, self.space = course, theta, course.space
        self._passes: dict[tuple[str, ...], Pass] = {}

    def sums(self, records: Sequence[Record], *, serials: bool = False) -> Sums:
        """The sums over dossiers, among the parameters of all."""
        out = Sums.nothing(self.space.size)
        by_packs: dict[tuple[str, ...], list[Record]] = {}
        for record in records:
            by_packs.setdefault(record.dossier.packs, []).append(record)
        for packs, mine in by_packs.items():
            places = self.course.places(packs, self.space)
            if packs not in self._passes:
                room = ROOM // len(self.course.subjects)
                self._passes[packs] = Pass(self.course.subjects[packs], self.theta[places], room)
            found = self._passes[packs].sums(mine, serials=serials)
            out = out + found.placed(places, self.space.size)
        return out

    def serials(self) -> list[SerialRecord]:
        """The serial numbers put down since they were last taken."""
        out = [r for p in self._passes.values() for r in p.serials]
        for p in self._passes.values():
            p.serials = []
        return out
