"""From a distribution over weeks to what people read: sets, years, an EDTF text."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .time import Array, Grid, IntArray
from .verdict import BuildDate, Run
from .weeks import week_label

LEVELS = ("0.50", "0.80", "0.95")
LEAST_YEAR = 0.0005


def highest_density(p: Array, level: float) -> IntArray:
    """The weeks of the smallest set that holds ``level``; ties to 12 digits go to the earlier week.

    >>> highest_density(np.array([0.1, 0.5, 0.4]), 0.8).tolist()
    [1, 2]
    """
    with np.errstate(divide="ignore"):
        rank = np.round(np.log(np.maximum(p, 1e-300)), 12)
    order = np.lexsort((np.arange(p.size), -rank))
    mass = np.cumsum(p[order])
    count = int(np.searchsorted(mass, level * (1 - 1e-12)) + 1)
    return np.sort(order[: min(count, p.size)])


def runs_of(weeks: IntArray) -> list[tuple[int, int]]:
    """First and last week of each run of consecutive weeks.

    >>> runs_of(np.array([3, 4, 5, 9]))
    [(3, 5), (9, 9)]
    """
    if weeks.size == 0:
        return []
    cut = np.flatnonzero(np.diff(weeks) > 1)
    first = np.concatenate((weeks[:1], weeks[cut + 1]))
    last = np.concatenate((weeks[cut], weeks[-1:]))
    return list(zip(first.tolist(), last.tolist(), strict=True))


def density_sets(p: Array) -> dict[str, tuple[Run, ...]]:
    """The 50, 80 and 95% sets as runs with their mass."""
    out: dict[str, tuple[Run, ...]] = {}
    for level in LEVELS:
        out[level] = tuple(
            (week_label(a), week_label(b), float(p[a : b + 1].sum()))
            for a, b in runs_of(highest_density(p, float(level)))
        )
    return out


def edtf_of(weeks: Sequence[tuple[int, int]], grid: Grid) -> str:
    """One of a set of months (ISO 8601-2, EDTF level 2), as ``[1957-09..1957-12,1967-08]``."""
    months: list[list[int]] = []
    for a, b in weeks:
        lo, hi = int(grid.months[a]), int(grid.months[b])
        if months and lo <= months[-1][1] + 1:
            months[-1][1] = max(hi, months[-1][1])
        else:
            months.append([lo, hi])
    if len(months) == 1 and months[0][0] == months[0][1]:
        return _month(months[0][0])  # a set of one is not a set (EDTF)
    return (
        "["
        + ",".join(_month(lo) if lo == hi else f"{_month(lo)}..{_month(hi)}" for lo, hi in months)
        + "]"
    )


def year_masses(p: Array, grid: Grid) -> dict[int, float]:
    """P(year), for every year of the grid."""
    first = int(grid.years[0])
    mass = np.bincount(grid.years - first, weights=p)
    return {first + i: float(v) for i, v in enumerate(mass)}


def build_date(p: Array, grid: Grid) -> BuildDate:
    """Everything said about the week of final assembly."""
    years = year_masses(p, grid)
    mode = int(np.argmax(np.round(p, 15)))
    mode_year = max(years, key=lambda y: (round(years[y], 12), -y))
    decades: dict[int, float] = {}
    for year, mass in years.items():
        decades[year // 10 * 10] = decades.get(year // 10 * 10, 0.0) + mass
    return BuildDate(
        edtf=edtf_of(runs_of(highest_density(p, 0.95)), grid),
        mode=week_label(mode),
        mode_year=mode_year,
        p_mode_year=years[mode_year],
        years={y: v for y, v in years.items() if v >= LEAST_YEAR},
        decades={d: v for d, v in decades.items() if v >= LEAST_YEAR},
        sets=density_sets(p),
        start=week_label(0),
        weeks=p,
    )


def _month(index: int) -> str:
    return f"{index // 12:04d}-{index % 12 + 1:02d}"
