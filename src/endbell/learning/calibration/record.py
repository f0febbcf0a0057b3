"""What is kept of each drawn dossier: small enough for a million, enough for every figure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...chronology import Brief
from ...chronology.weeks import thursday
from ..simulation.types import Truth
from .coverage import LEVELS
from .ranks import randomised_rank
from .rules import FIRST_YEAR, RuleYears
from .scores import LEAST, NO_YEAR

KINDS = ("original", "later", "period", "married", "claim", "model", "decade")
"""What probabilities are stated of; a pair's ``kind`` is an index into it."""


@dataclass(frozen=True, eq=False)
class Records:
    """N dossiers and P stated probabilities, as columns.

    ``index``: which draw; ``rank``: of the true week; ``mass``, ``hit``, ``width``: of the 50, 80
    and 95% sets, shape (N, 3), width in weeks; ``log_week``, ``log_year``: ln P of the true one;
    ``year``, ``mode_year``: true and likeliest; ``latest``, ``median``: by the plain rules (-1:
    none); ``codes``: codes these had; ``marks``: weighed, ``left_out``: not weighed.

    Pairs: ``kind``, ``owner`` (the draw it belongs to), ``stated``, ``true``, shape (P,) each.
    ``failed``: draws that could not be weighed at all, in none of the others.
    """

    index: NDArray[np.int64]
    rank: NDArray[np.float64]
    mass: NDArray[np.float64]
    hit: NDArray[np.bool_]
    width: NDArray[np.int64]
    log_week: NDArray[np.float64]
    log_year: NDArray[np.float64]
    year: NDArray[np.int64]
    mode_year: NDArray[np.int64]
    latest: NDArray[np.int64]
    median: NDArray[np.int64]
    codes: NDArray[np.int64]
    marks: NDArray[np.int64]
    left_out: NDArray[np.int64]
    kind: NDArray[np.int8]
    owner: NDArray[np.int64]
    stated: NDArray[np.float64]
    true: NDArray[np.bool_]
    failed: NDArray[np.int64]

    @property
    def n(self) -> int:
        return self.index.size

    def pairs(self, kind: str) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.int64]]:
        """Stated, true, owner of one kind."""
        chosen = self.kind == KINDS.index(kind)
        return self.stated[chosen], self.true[chosen], self.owner[chosen]

    def arrays(self) -> dict[str, NDArray[np.generic]]:
        """The columns by name: what is written to a file."""
        return {f.name: getattr(self, f.name) for f in fields(self)}

    def first(self, stop: int) -> Records:
        """Those of the draws before ``stop``."""
        rows, pairs = self.index < stop, self.owner < stop
        return type(self)(
            **{
                f.name: getattr(self, f.name)[
                    pairs
                    if f.name in ("kind", "owner", "stated", "true")
                    else self.failed < stop
                    if f.name == "failed"
                    else rows
                ]
                for f in fields(self)
            }
        )

    @classmethod
    def joined(cls, several: Sequence[Records]) -> Records:
        """One after the other; at least one."""
        return cls(
            **{f.name: np.concatenate([getattr(r, f.name) for r in several]) for f in fields(cls)}
        )

    @classmethod
    def of(cls, several: Sequence[Record], failed: Sequence[int] = ()) -> Records:
        """Columns of single records."""
        pairs = [(*pair, r.index) for r in several for pair in r.pairs]
        table = np.array(pairs, dtype=np.float64).reshape(-1, 4)

        def whole(name: str) -> NDArray[np.int64]:
            return np.array([getattr(r, name) for r in several], dtype=np.int64)

        def real(name: str) -> NDArray[np.float64]:
            return np.array([getattr(r, name) for r in several], dtype=np.float64)

        return cls(
            index=whole("index"),
            rank=real("rank"),
            mass=real("mass").reshape(-1, len(LEVELS)),
            hit=whole("hit").reshape(-1, len(LEVELS)).astype(np.bool_),
            width=whole("width").reshape(-1, len(LEVELS)),
            log_week=real("log_week"),
            log_year=real("log_year"),
            year=whole("year"),
            mode_year=whole("mode_year"),
            latest=whole("latest"),
            median=whole("median"),
            codes=whole("codes"),
            marks=whole("marks"),
            left_out=whole("left_out"),
            kind=table[:, 0].astype(np.int8),
            stated=table[:, 1],
            true=table[:, 2] > 0,
            owner=table[:, 3].astype(np.int64),
            failed=np.array(failed, dtype=np.int64),
        )


Pair = tuple[int, float, bool]  # kind, stated, true


@dataclass(frozen=True, slots=True)
class Record:
    """One dossier; the names are those of :class:`Records`."""

    index: int
    rank: float
    mass: tuple[float, ...]
    hit: tuple[bool, ...]
    width: tuple[int, ...]
    log_week: float
    log_year: float
    year: int
    mode_year: int
    latest: int
    median: int
    codes: int
    marks: int
    left_out: int
    pairs: tuple[Pair, ...]


def record_of(index: int, truth: Truth, found: Brief, rules: RuleYears, v: float) -> Record:
    """What is kept of one dossier. ``v``: uniform on [0, 1), spreads the tie within the week."""
    p = found.build.weeks
    runs = [found.build.sets[level] for level in LEVELS]
    years = _years(p.size)
    by_year = np.bincount(years, weights=p)
    year = int(years[truth.week])
    return Record(
        index=index,
        rank=randomised_rank(p, truth.week, v),
        mass=tuple(sum(mass for _, _, mass in run) for run in runs),
        # ISO names of weeks sort as the weeks do
        hit=tuple(any(a <= truth.build <= b for a, b, _ in run) for run in runs),
        width=tuple(sum(_weeks_between(a, b) for a, b, _ in run) for run in runs),
        log_week=float(np.log(max(p[truth.week], LEAST))),
        log_year=float(np.log(max(by_year[year], LEAST))),
        year=year,
        mode_year=found.build.mode_year,
        latest=NO_YEAR if rules.latest is None else rules.latest,
        median=NO_YEAR if rules.median is None else rules.median,
        codes=rules.codes,
        marks=found.weighed,
        left_out=len(found.not_weighed),
        pairs=(*_origins(truth, found), *_amp(truth, found), *_decades(by_year, year)),
    )


def _origins(truth: Truth, found: Brief) -> list[Pair]:
    out: list[Pair] = []
    for part in found.parts:
        origin = truth.origins.get(part.part)
        if origin is None:
            continue
        stated = (part.original, part.later_replacement, part.period_replacement)
        out += [(k, stated[k], origin == KINDS[k]) for k in range(3)]
    return out


def _amp(truth: Truth, found: Brief) -> list[Pair]:
    out = [
        (KINDS.index("married"), p, assembly in truth.married)
        for assembly, p in found.assemblies.items()
        if p > 0  # where marriage is ruled out beforehand nothing is stated
    ]
    if found.claim is not None and found.claim.p is not None and truth.claim_true is not None:
        out.append((KINDS.index("claim"), found.claim.p, truth.claim_true))
    if len(found.models) > 1:
        out += [(KINDS.index("model"), m.p, m.model == truth.model) for m in found.models]
    return out


def _decades(by_year: NDArray[Any], year: int) -> list[Pair]:
    """One statement for every decade of the grid, in order, whatever is left of it."""
    by_decade = np.bincount(np.arange(by_year.size) // 10, weights=by_year)
    first = FIRST_YEAR // 10
    kind = KINDS.index("decade")
    return [
        (kind, min(float(p), 1.0), first + i == year // 10) for i, p in enumerate(by_decade[first:])
    ]


@lru_cache(maxsize=8)
def _years(size: int) -> NDArray[np.int64]:
    """The year of every week of the grid: that of its Thursday."""
    return np.array([thursday(week).year for week in range(size)], dtype=np.int64)


@lru_cache(maxsize=8)
def _numbers(last: int) -> Mapping[str, int]:
    from ...chronology.weeks import week_label

    return {week_label(week): week for week in range(last)}


def _weeks_between(first: str, last: str) -> int:
    numbers = _numbers(8192)
    return numbers[last] - numbers[first] + 1
