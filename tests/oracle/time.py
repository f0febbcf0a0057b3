"""Weeks, intervals and soft windows (docs/model.md, section 1)."""

from __future__ import annotations

import math
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

FIRST_MONDAY = date(1929, 12, 30)


def week_of(day: date) -> int:
    """The week a day belongs to; week 0 is 1930-W01, earlier days are negative."""
    return (day - FIRST_MONDAY).days // 7


def thursday(week: int) -> date:
    return FIRST_MONDAY + timedelta(days=7 * week + 3)


def year_of(week: int) -> int:
    return thursday(week).year


def month_of(week: int) -> tuple[int, int]:
    return thursday(week).year, thursday(week).month


def number_in_year(week: int) -> int:
    """The ISO week number: how many Thursdays of this year have passed, this one counted."""
    return (thursday(week).timetuple().tm_yday + 6) // 7


def weeks_in_year(year: int) -> int:
    """52 or 53: how many Thursdays the year has."""
    first = date(year, 1, 1)
    days = (date(year + 1, 1, 1) - first).days
    return sum(1 for n in range(days) if (first + timedelta(days=n)).weekday() == 3)


def label(week: int) -> str:
    return f"{year_of(week)}-W{number_in_year(week):02d}"


def holds(week: int, first: date | None, last: date | None) -> bool:
    """Is the week one of the 'weeks of the interval'? (An open interval is a long one.)"""
    short = first is not None and last is not None and (last - first).days + 1 < 7
    if short:
        monday = thursday(week) - timedelta(days=3)
        return any(first <= monday + timedelta(days=n) <= last for n in range(7))
    day = thursday(week)
    return (first is None or first <= day) and (last is None or day <= last)


def weeks_of_interval(total: int, first: date | None, last: date | None) -> np.ndarray:
    """Indicator over the grid, shape (total,)."""
    return np.array([1.0 if holds(w, first, last) else 0.0 for w in range(total)])


def logistic(x: np.ndarray) -> np.ndarray:
    return np.where(
        x >= 0, 1 / (1 + np.exp(-np.abs(x))), np.exp(-np.abs(x)) / (1 + np.exp(-np.abs(x)))
    )


def soft_window(total: int, first: date | None, last: date | None, softness: float) -> np.ndarray:
    """w(t) over the grid, shape (total,)."""
    t = np.arange(total, dtype=float)
    w = np.ones(total)
    if first is not None:
        start = week_of(first)
        w *= (t >= start) if softness == 0 else logistic((t - start + 0.5) / softness)
    if last is not None:
        end = week_of(last)
        w *= (t <= end) if softness == 0 else logistic((end - t + 0.5) / softness)
    return w


def knots_density(total: int, knots: list[tuple[int, float]]) -> np.ndarray:
    """Linear between knots at the week of 1 January of their year, constant beyond the ends."""
    places = [(week_of(date(year, 1, 1)), weight) for year, weight in sorted(knots)]
    density = np.empty(total)
    for t in range(total):
        if t <= places[0][0]:
            density[t] = places[0][1]
        elif t >= places[-1][0]:
            density[t] = places[-1][1]
        else:
            for (left, a), (right, b) in pairwise(places):
                if left <= t <= right:
                    density[t] = a + (b - a) * (t - left) / (right - left)
    return density


def normal_density(x: np.ndarray, mean: float, sd: float) -> np.ndarray:
    return np.exp(-(((x - mean) / sd) ** 2) / 2) / (sd * math.sqrt(2 * math.pi))
