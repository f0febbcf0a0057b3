"""What a person at the bench would say without a model: two plain rules, given every advantage.

*The latest code decides*: an amp can't be older than its youngest part.  *The median of the
codes*: one odd part should not matter.  Both read the codes as they stand; neither knows of lags,
deliveries or swapped parts.  So that they are no straw men:

- parts whose class is replaced more often than not (valves, electrolytics), and parts known to have
  been replaced, are passed over, as a person would;
- a year digit that leaves the decade open is settled by the codes that do not (the nearest year to
  their median), else by the years in which most such amps were made;
- a worn code counts as its likeliest reading.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from statistics import median_low

import numpy as np
from numpy.typing import NDArray

from ...dossier.reading import read_marks
from ...dossier.types import Dossier
from ...marks import MarkReading, Seen, Tables, read_mark
from ...reference.types import Reference

NEARLY = 0.9
"""Readings with at least this share of the likeliest one's weight stand beside it."""

USUALLY = 0.5
"""Classes replaced more often than that are no witnesses of the date."""

FIRST_YEAR = 1930


@dataclass(frozen=True, slots=True)
class RuleYears:
    """The year by each rule, None where no code can be read; ``codes``: how many were."""

    latest: int | None
    median: int | None
    codes: int


def rule_years(
    dossier: Dossier,
    reference: Reference,
    assume: Mapping[str, float],
    made: NDArray[np.float64],
    read_one: Callable[[Seen, Tables], MarkReading] = read_mark,
) -> RuleYears:
    """The year of final assembly by either rule, from the typed marks alone.

    ``made``: how many such amps were made in each year from 1930 (:func:`years_made`).  A median
    that falls between two years is the earlier.
    """
    open_to = _candidates(dossier, reference, assume, read_one)
    settled = [years[0] for years in open_to if len(years) == 1]
    if settled:
        near = median_low(settled)
        years = [min(options, key=lambda y: (abs(y - near), y)) for options in open_to]
    else:
        years = [max(options, key=lambda y: (made[y - FIRST_YEAR], -y)) for options in open_to]
    if not years:
        return RuleYears(None, None, 0)
    return RuleYears(max(years), median_low(years), len(years))


def years_made(reference: Reference, as_of: date) -> NDArray[np.float64]:
    """Amps made by year from 1930 to ``as_of``, as shares: the packs' runs, else the era prior."""
    size = as_of.year - FIRST_YEAR + 1
    out = np.zeros(size)
    for model in reference.models:
        whole = sum(run.weight for run in model.runs) or 1.0
        for run in model.runs:
            if run.first is not None and run.first > as_of:
                continue
            lo = max((run.first.year if run.first else FIRST_YEAR) - FIRST_YEAR, 0)
            hi = min((run.last.year if run.last else as_of.year) - FIRST_YEAR, size - 1)
            out[lo : hi + 1] += model.odds * run.weight / whole / (hi - lo + 1)
    if out.sum() <= 0:
        knots = reference.era
        middles = FIRST_YEAR + np.arange(size) + 0.5
        out = (
            np.interp(middles, [k.year for k in knots], [k.weight for k in knots])
            if knots
            else np.ones(size)
        )
    return out / out.sum()


def _candidates(
    dossier: Dossier,
    reference: Reference,
    assume: Mapping[str, float],
    read_one: Callable[[Seen, Tables], MarkReading],
) -> list[list[int]]:
    """For every code that bears a date, the years it most likely stands for, in order."""
    classes = {part.id: part.part_class for part in dossier.parts}
    replaced = {repair.part for repair in dossier.repairs if repair.replaced}
    out: list[list[int]] = []
    for mark, reading in read_marks(dossier, reference, read_one).read:
        name = f"replaced.{classes.get(mark.part, 'other')}.probability"
        often = assume.get(name, assume.get("replaced.other.probability", 0.0)) > USUALLY
        if often or mark.part in replaced or reading.dating not in ("week-code", "dated"):
            continue
        years = _years(reading, dossier.as_of)
        if years:
            out.append(years)
    return out


def _years(reading: MarkReading, as_of: date) -> list[int]:
    dated = [
        (r.p, (r.first + (r.last - r.first) / 2).year)
        for r in reading.readings
        if r.first is not None and r.last is not None
    ]
    dated = [(p, year) for p, year in dated if FIRST_YEAR <= year <= as_of.year]
    best = max((p for p, _ in dated), default=0.0)
    return sorted({year for p, year in dated if p >= NEARLY * best})
