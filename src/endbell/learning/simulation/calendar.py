"""Weeks on the grid, and the windows and densities that lie over it (docs/model.md, sections 1, 3).

A second writing of what the engine computes too: the two must not share code.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from ...reference.types import EraKnot, Window

Weeks = NDArray[np.float64]

START = date(1929, 12, 30)
_AROUND = 3  # weeks kept before and after the grid, for codes that name the neighbouring week
_SHORTEST = 53


def week_of(day: date) -> int:
    """Week index of a day."""
    return (day - START).days // 7


class Calendar:
    """The grid of weeks up to ``as_of``: size, years, months and code weeks."""

    def __init__(self, as_of: date) -> None:
        self.as_of = as_of
        self.size = max(week_of(as_of) + 1, _SHORTEST)
        days = np.datetime64(START, "D") + 7 * np.arange(-_AROUND, self.size + _AROUND) + 3
        years = days.astype("datetime64[Y]")
        number = (days - years.astype("datetime64[D]")).astype(np.int64) // 7 + 1
        self._code_years: list[int] = (years.astype(np.int64) + 1970).tolist()
        self._code_weeks: list[int] = number.tolist()
        months: list[int] = (days.astype("datetime64[M]").astype(np.int64) % 12 + 1).tolist()
        inside = slice(_AROUND, _AROUND + self.size)
        self.year: list[int] = self._code_years[inside]
        self._month: list[int] = months[inside]

    def code(self, week: int) -> tuple[int, int]:
        """ISO year and number of a week; it may lie up to three weeks off the grid."""
        return self._code_years[week + _AROUND], self._code_weeks[week + _AROUND]

    def year_of_month(self, week: int) -> tuple[int, int]:
        """Year and month of a week's Thursday; the week lies on the grid."""
        return self.year[week], self._month[week]

    def follows_52(self, week: int) -> bool:
        """Whether this is week 1 after a year of 52 weeks."""
        at = week + _AROUND
        return self._code_weeks[at] == 1 and self._code_weeks[at - 1] == 52

    def label(self, week: int) -> str:
        """'1964-W14'."""
        year, number = self.code(week)
        return f"{year:04d}-W{number:02d}"

    def day(self, week: int, weekday: int) -> date:
        """A day of a week, 0 is Monday."""
        return START + timedelta(days=7 * week + weekday)

    def interval(self, first: date | None, last: date | None) -> tuple[int, int]:
        """First and one-past-last week of an interval of days, cut to the grid.

        Seven days or longer: the weeks whose Thursday lies in it; shorter: every week touched.
        """
        if first is not None and last is not None and (last - first).days < 6:
            low, high = week_of(first), week_of(last)
        else:
            low = 0 if first is None else week_of(first + timedelta(days=3))
            high = self.size - 1 if last is None else week_of(last - timedelta(days=3))
        low, high = max(low, 0), min(high, self.size - 1)
        return low, max(high + 1, low)

    def inside(self, first: date | None, last: date | None) -> Weeks:
        """1 on the weeks of an interval, else 0; shape (size,)."""
        out = np.zeros(self.size)
        low, high = self.interval(first, last)
        out[low:high] = 1.0
        return out

    def window(self, window: Window, softness: float) -> Weeks:
        """The soft window over the grid, without its weight; shape (size,)."""
        t = np.arange(self.size, dtype=np.float64)
        out = np.ones(self.size)
        if window.first is not None:
            out = out * _rise(t - week_of(window.first) + 0.5, softness)
        if window.last is not None:
            out = out * _rise(week_of(window.last) - t + 0.5, softness)
        return out

    def era(self, knots: Sequence[EraKnot]) -> Weeks:
        """The broad era density, normalised; shape (size,)."""
        if not knots:
            return np.full(self.size, 1.0 / self.size)
        at = [week_of(date(knot.year, 1, 1)) for knot in knots]
        out = np.interp(np.arange(self.size), at, [knot.weight for knot in knots])
        return out / out.sum()


def _rise(x: Weeks, softness: float) -> Weeks:
    if softness <= 0:
        return np.where(x > 0, 1.0, 0.0)
    return 1.0 / (1.0 + np.exp(np.clip(-x / softness, -700.0, 700.0)))
