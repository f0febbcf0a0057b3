"""From what a text can be to a likelihood over weeks: t(w) of docs/model.md, section 4."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..marks import Reading, Split, Vector
from .time import MARGIN, Array, Grid, IntArray


def code_likelihood(split: Split, grid: Grid) -> tuple[Array, Array]:
    """P(year and week characters | the code of ISO week v), v = -MARGIN .. size+MARGIN-1.

    Returns two arrays of shape (size + 2*MARGIN,): the ordinary code of v, and the code 'week 53 of
    the year before' where v is week 1 after a year of 52 weeks (elsewhere 0).
    """
    years, weeks = grid.padded_codes
    year = _digits(split.year)
    week = _digits(split.week)
    week = week.copy()
    week[0] = 0.0
    week[54:] = 0.0
    span = len(year)
    ordinary = year[years % span] * week[weeks]
    carried = np.zeros_like(ordinary)
    first = first_after_52(grid)
    carried[first] = year[(years[first] - 1) % span] * week[53]
    return ordinary, carried


def first_after_52(grid: Grid) -> IntArray:
    """Padded indices of the weeks that are week 1 after a year of 52 weeks."""
    _, weeks = grid.padded_codes
    return np.flatnonzero((weeks == 1) & (np.roll(weeks, 1) == 52))


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
    first = first_after_52(grid)
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
    for r in readings:
        t[grid.weeks_of(r.first, r.last)] += r.p
    return t


def delivered(t: Array, spread: Sequence[float]) -> Array:
    """h(D) = sum over e of P(e) t(D - e): the delivery's week against the part's; shape (size,)."""
    h = spread[0] * t
    for e, p in enumerate(spread[1:], start=1):
        h[e:] += p * t[:-e]
    return h


def _digits(vectors: tuple[Vector, ...]) -> Array:
    """Likelihood of each number 0 .. 10^len-1 written with leading zeros."""
    out = np.ones(1)
    for v in vectors:
        out = np.multiply.outer(out, np.asarray(v)).ravel()
    return out
