"""Serial numbers against dates: a rising curve through what the rest of each dossier says.

What a serial says of its own amp has no say in it: a curve that dates the amps by itself would only
find itself again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ...chronology.influence import without_mark
from ...chronology.weeks import week_of
from ...chronology.weighing import Posterior
from ...marks.tables import SerialRange
from .fit import Z90

Array = NDArray[np.float64]

BINS = 4  # weeks in a bin of what the other marks say
AROUND = 416  # weeks about the pack's date that are kept; what lies beyond speaks for the leak
ROUNDS = 60
STILL = 0.02  # weeks by which the curve may still move
IN_A_KNOT = 25  # records that a knot of the curve rests on, at the least
MOST_KNOTS = 10
LEAST_WEIGHT = 1e-6


@dataclass(frozen=True, eq=False)
class SerialRecord:
    """A serial number and what the dossier says without it.

    ``p``: of the build week in bins of BINS weeks about the pack's week for the number, (bins,);
    what is missing to one lies elsewhere.  ``times``: how often such a dossier comes.
    """

    range_id: str
    number: int
    p: Array
    times: int = 1


def serial_records(
    post: Posterior, ranges: Sequence[SerialRange], times: int = 1
) -> list[SerialRecord]:
    """Those of a dossier: serial numbers read beyond doubt, in one range."""
    out: list[SerialRecord] = []
    for e in post.evidence:
        for mark, reading in e.read:
            if reading.dating != "serial" or len(reading.readings) != 1:
                continue
            facts = dict(reading.readings[0].facts)
            found = next((r for r in ranges if r.id == facts.get("range")), None)
            if found is None or not facts.get("number", "").isdigit():
                continue
            number = int(facts["number"])
            by_week, _ = without_mark(post.joint, post.evidence, mark.n)
            out.append(SerialRecord(found.id, number, binned(by_week, line(found, number)), times))
    return out


def line(row: SerialRange, number: float) -> float:
    """The week at which a straight line through the range reaches a number."""
    first, last = week_of(row.first), week_of(row.last)
    span = row.last_number - row.first_number
    return first + (last - first) * ((number - row.first_number) / span if span else 0.5)


def binned(by_week: Array, middle: float) -> Array:
    """p(B) in bins about a week."""
    first = round(middle) - AROUND
    weeks = np.arange(first, first + 2 * AROUND)
    inside = (weeks >= 0) & (weeks < by_week.size)
    p = np.where(inside, by_week[np.clip(weeks, 0, by_week.size - 1)], 0.0)
    return p.reshape(-1, BINS).sum(axis=1)


@dataclass(frozen=True, slots=True)
class Knot:
    """A point of the curve: a serial number, its week with a 90% interval, its records."""

    number: int
    week: float
    low: float
    high: float
    records: float


def curve(
    row: SerialRange, records: Sequence[SerialRecord], leak: float, width: float
) -> tuple[Knot, ...]:
    """The curve of one range; empty where there are too few records for it.

    ``leak``: chance of a serial outside its range; ``width``: how far the curve may lie from the
    pack's, standard deviation in weeks.  Expectation and maximisation: each record's expected week
    and weight under the curve, then isotonic regression on means over neighbouring numbers, which
    the pack's line is one more record of.  Intervals: the information that the slopes of the
    records' likelihood hold about a knot, and the prior's; cut where the neighbours' ends would
    make the curve fall.
    """
    mine = sorted((r for r in records if r.range_id == row.id), key=lambda r: r.number)
    total = sum(r.times for r in mine)
    if total < IN_A_KNOT:
        return ()
    times = np.array([float(r.times) for r in mine])
    number = np.array([r.number for r in mine], dtype=np.float64)
    knots = int(np.clip(total // IN_A_KNOT, 1, MOST_KNOTS))
    place = np.minimum(((np.cumsum(times) - 0.5 * times) / total * knots).astype(int), knots - 1)
    _, place = np.unique(place, return_inverse=True)
    by = np.bincount(place, times)
    centre = np.bincount(place, times * number) / by
    at = np.concatenate([[row.first_number], centre, [row.last_number]])
    offsets: Array = (np.arange(mine[0].p.size, dtype=np.float64) + 0.5) * BINS - AROUND - 0.5
    middle = np.array([float(round(line(row, r.number))) for r in mine])
    weeks: Array = middle[:, None] + offsets
    fit = _Fit(row, number, times, place, at, weeks, np.array([r.p for r in mine]), leak, width)
    found, weight, precision = fit.solve()
    half = Z90 / np.sqrt(precision)
    low = np.maximum.accumulate(found - half)
    high = np.minimum.accumulate((found + half)[::-1])[::-1]
    return tuple(
        Knot(round(n), float(w), float(min(a, w)), float(max(b, w)), float(r))
        for n, w, a, b, r in zip(at, found, low, high, weight, strict=True)
    )


@dataclass(frozen=True, eq=False)
class _Fit:
    """Records in order of their numbers; ``place``: the knot each rests on, ``at``: the knots, the
    ends of the range among them, which no record rests on.  About a knot the curve runs beside the
    pack's line.
    """

    row: SerialRange
    number: Array
    times: Array
    place: NDArray[np.intp]
    at: Array
    weeks: Array
    p: Array
    leak: float
    width: float

    def solve(self) -> tuple[Array, Array, Array]:
        """Weeks of the knots, the weight of the records behind each, the precision of each."""
        from scipy.optimize import isotonic_regression

        prior = np.array([line(self.row, n) for n in self.at])
        spread2 = self.row.spread_weeks**2 + BINS**2 / 12.0
        inner = self.at.size - 2
        found, by_knot = prior, np.zeros(inner)
        precision = np.full(self.at.size, self.width**-2)
        for _ in range(ROUNDS):
            gap, belongs = self._expected((found - prior)[1:-1], spread2)
            weight = self.times * belongs
            by_knot = np.bincount(self.place, weight, minlength=inner)
            shift = np.bincount(self.place, weight * gap, minlength=inner)
            # to the curve's own week at the knot the records add how far they lie from it
            now = found[1:-1] + shift / np.maximum(by_knot, LEAST_WEIGHT)
            weights = np.concatenate([[0.0], by_knot / spread2, [0.0]]) + self.width**-2
            target = prior * self.width**-2
            target[1:-1] += now * by_knot / spread2
            new = isotonic_regression(target / weights, weights=weights).x
            moved = float(np.abs(new - found).max())
            found = new
            slope = belongs * gap / spread2
            precision = np.full(self.at.size, self.width**-2)
            precision[1:-1] += np.bincount(self.place, self.times * slope**2, minlength=inner)
            if moved < STILL:
                break
        return found, np.concatenate([[0.0], by_knot, [0.0]]), precision

    def _expected(self, off: Array, spread2: float) -> tuple[Array, Array]:
        """How far each record lies from the curve, and the chance that it keeps to it at all;
        ``off``: how far the curve is off the pack's line at the knots.
        """
        on = np.array([line(self.row, n) for n in self.number]) + off[self.place]
        near = np.exp(-0.5 * (self.weeks - on[:, None]) ** 2 / spread2)
        joint = self.p * near * ((1.0 - self.leak) / np.sqrt(2.0 * np.pi * spread2))
        inside = joint.sum(axis=1)
        gap = (joint * (self.weeks - on[:, None])).sum(axis=1) / np.maximum(inside, 1e-300)
        return gap, inside / (inside + self.leak / (2.0 * AROUND))


def rows_of(row: SerialRange, knots: Sequence[Knot]) -> list[tuple[SerialRange, Knot, Knot]]:
    """The range cut at its knots: straight lines between them, each with the knots at its ends."""
    first_day = row.first - timedelta(weeks=week_of(row.first))
    out: list[tuple[SerialRange, Knot, Knot]] = []
    for n, (a, b) in enumerate(pairwise(_apart(knots))):
        days = (_day(first_day, a.week), _day(first_day, b.week))
        start = a.number if n == 0 else a.number + 1
        name = row.id if not out else f"{row.id}-{len(out) + 1}"
        made = SerialRange(name, row.prefix, start, b.number, *days, row.spread_weeks, row.models)
        out.append((made, a, b))
    return out


def _apart(knots: Sequence[Knot]) -> list[Knot]:
    """Knots whose numbers rise."""
    out = [knots[0]]
    for k in knots[1:]:
        if k.number > out[-1].number:
            out.append(k)
    return out


def _day(first_day: date, week: float) -> date:
    return first_day + timedelta(days=round(7 * week))
