"""The week grid: ISO weeks from 1930-W01 to the week of ``as_of``; years, months and windows on
it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..reference.types import EraKnot, Window
from .weeks import FIRST_MONDAY, thursday, week_of

Array = NDArray[np.float64]
IntArray = NDArray[np.integer]
BoolArray = NDArray[np.bool_]
ComplexArray = NDArray[np.complexfloating]

MARGIN = 640  # weeks kept before and after the grid, for codes and labels that reach over its ends


def on_weeks(a: Array, weeks: IntArray) -> Array:
    """An array (..., weeks or 1) on some of its weeks; what is the same in every week stays."""
    return a.take(weeks, axis=-1) if a.shape[-1] > 1 else a


@dataclass(frozen=True, eq=False)
class Grid:
    """Weeks 0..size-1. Arrays over weeks have shape (size,); padded ones (size + 2*MARGIN,)."""

    size: int

    @classmethod
    def until(cls, as_of: date) -> Grid:
        """The grid whose last week holds ``as_of`` (never shorter than one year)."""
        return cls(max(week_of(as_of) + 1, 53))

    @cached_property
    def padded_codes(self) -> tuple[IntArray, IntArray]:
        """ISO year and ISO week number of weeks -MARGIN .. size+MARGIN-1."""
        days = np.datetime64(FIRST_MONDAY, "D") + 7 * np.arange(-MARGIN, self.size + MARGIN) + 3
        years = days.astype("datetime64[Y]")
        day_of_year = (days - years.astype("datetime64[D]")).astype(np.int64)
        return years.astype(np.int64) + 1970, day_of_year // 7 + 1

    @cached_property
    def first_after_52(self) -> IntArray:
        """Padded indices of the weeks that are week 1 after a year of 52 weeks."""
        weeks = self.padded_codes[1]
        return np.flatnonzero((weeks == 1) & (np.roll(weeks, 1) == 52))

    def year_digits(self, count: int) -> IntArray:
        """The last digits of the year of every padded week, as a number."""
        if count not in self._year_digits:
            self._year_digits[count] = self.padded_codes[0] % 10**count
        return self._year_digits[count]

    @cached_property
    def _year_digits(self) -> dict[int, IntArray]:
        return {}

    @cached_property
    def years(self) -> IntArray:
        """ISO year of every week, shape (size,)."""
        return self.padded_codes[0][MARGIN : MARGIN + self.size]

    @cached_property
    def months(self) -> IntArray:
        """Months since year 0 (12 * year + month - 1) of every week's Thursday, shape (size,)."""
        days = np.datetime64(FIRST_MONDAY, "D") + 7 * np.arange(self.size) + 3
        return days.astype("datetime64[M]").astype(np.int64) + 1970 * 12

    def weeks_of(self, first: date | None, last: date | None) -> slice:
        """The weeks of an interval: by Thursday if it is seven days or longer, else every week
        touched.
        """
        if first is not None and last is not None and (last - first).days < 6:
            lo, hi = week_of(first), week_of(last)
        else:
            lo = 0 if first is None else -((thursday(0) - first).days // 7)
            hi = self.size - 1 if last is None else (last - thursday(0)).days // 7
        lo, hi = max(lo, 0), min(hi, self.size - 1)
        return slice(lo, max(hi + 1, lo))

    def weeks_of_many(
        self, intervals: Sequence[tuple[date | None, date | None]]
    ) -> tuple[IntArray, IntArray]:
        """First week of each interval and the week after its last one: :meth:`weeks_of` of many."""
        monday = FIRST_MONDAY.toordinal()
        first = np.array([monday if a is None else a.toordinal() for a, _ in intervals]) - monday
        far = monday + 7 * self.size - 4
        last = np.array([far if b is None else b.toordinal() for _, b in intervals]) - monday
        bounded = np.array([a is not None and b is not None for a, b in intervals])
        short = bounded & (last - first < 6)
        low = np.where(short, first // 7, -((3 - first) // 7))
        high = np.where(short, last // 7, (last - 3) // 7)
        low = np.where(np.array([a is None for a, _ in intervals]), 0, low)
        low, high = np.maximum(low, 0), np.minimum(high, self.size - 1)
        return low, np.maximum(high + 1, low)

    def indicator(self, first: date | None, last: date | None) -> Array:
        """1 on the weeks of an interval, else 0; shape (size,)."""
        out = np.zeros(self.size)
        out[self.weeks_of(first, last)] = 1.0
        return out

    def soft_window(self, window: Window, softness: float) -> Array:
        """Logistic edges round [first, last], see docs/model.md section 1; shape (size,)."""
        t = np.arange(self.size, dtype=np.float64)
        out = np.ones(self.size)
        if window.first is not None:
            out *= _edge(t - week_of(window.first) + 0.5, softness)
        if window.last is not None:
            out *= _edge(week_of(window.last) - t + 0.5, softness)
        return out

    def era(self, knots: tuple[EraKnot, ...]) -> Array:
        """The broad era prior, normalised; piecewise linear through the knots; shape (size,)."""
        if not knots:
            return np.full(self.size, 1.0 / self.size)
        at = [week_of(date(k.year, 1, 1)) for k in knots]
        density = np.interp(np.arange(self.size), at, [k.weight for k in knots])
        return density / density.sum()


def _edge(x: Array, softness: float) -> Array:
    if softness <= 0:
        return (x > 0).astype(np.float64)
    z = np.clip(x / softness, -700.0, 700.0)
    return 1.0 / (1.0 + np.exp(-z))
