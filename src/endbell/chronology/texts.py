"""From what a text can be to a likelihood over weeks: t(w) of docs/model.md, section 4."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..marks import Reading, Split, Vector
from .time import MARGIN, Array, Grid, IntArray

MANY = 40
"""More intervals than that are turned into weeks all at once."""


def code_likelihood(split: Split, grid: Grid) -> tuple[Array, Array]:
    """P(year and week characters | the code of ISO week v), v = -MARGIN .. size+MARGIN-1.

    Returns two arrays of shape (size + 2*MARGIN,): the ordinary code of v, and the code 'week 53 of
    the year before' where v is week 1 after a year of 52 weeks (elsewhere 0).
    """
    _, weeks = grid.padded_codes
    year = _digits(split.year)
    week = _digits(split.week).copy()
    week[0] = 0.0
    week[54:] = 0.0
    last_digits = grid.year_digits(len(split.year))
    ordinary = year[last_digits] * week[weeks]
    carried = np.zeros_like(ordinary)
    first = grid.first_after_52
    carried[first] = year[last_digits[first] - 1] * week[53]
    return ordinary, carried


def week_code_kernel(assume: Mapping[str, float]) -> tuple[float, float, float]:
    """P(the code is that of the week before, the same, the week after), for a part made in a
    week.
    """
    return assume["week_code.before"], assume["week_code.same"], assume["week_code.after"]


def week_likelihood(split: Split, grid: Grid, assume: Mapping[str, float], in_use: Array) -> Array:
    """t(w) of one split, without its source; shape (size,). ``in_use``: weight of the scheme by
    week.
    """
    ordinary, carried = code_likelihood(split, grid)
    kappa = assume["week_code.week_53_of_52"]
    first = grid.first_after_52
    ordinary[first] = (1.0 - kappa) * ordinary[first] + kappa * carried[first]
    before, same, after = week_code_kernel(assume)
    m, n = MARGIN, grid.size
    t = same * ordinary[m : m + n] + before * ordinary[m - 1 : m + n - 1]
    t += after * ordinary[m + 1 : m + n + 1]
    return split.weight * t * in_use


def scheme_in_use(grid: Grid, assume: Mapping[str, float]) -> Array:
    """1 from the first year of the source-and-date code, a small weight before; shape (size,)."""
    before = grid.years < int(assume["scheme.first_year"])
    return np.where(before, assume["scheme.before_weight"], 1.0)


def interval_likelihood(readings: Sequence[Reading], grid: Grid) -> Array:
    """t(w) of readings that are intervals: the sum of p over those that hold w; shape (size,)."""
    t = np.zeros(grid.size)
    if len(readings) > MANY:
        low, high = grid.weeks_of_many([(r.first, r.last) for r in readings])
        n = np.maximum(high - low, 0)
        ends = n.cumsum()
        weeks: IntArray = np.arange(int(ends[-1])) - np.repeat(ends - n - low, n)
        np.add.at(t, weeks, np.repeat([r.p for r in readings], n))
        return t
    for r in readings:
        t[grid.weeks_of(r.first, r.last)] += r.p
    return t


def _digits(vectors: tuple[Vector, ...]) -> Array:
    """Likelihood of each number 0 .. 10^len-1 written with leading zeros."""
    out = np.ones(1)
    for v in vectors:
        out = np.multiply.outer(out, np.asarray(v)).ravel()
    return out
