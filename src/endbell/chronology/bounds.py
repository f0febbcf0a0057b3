"""Upper bounds of sums over a lag, by block of build weeks: what rules most of the grid out.

Dates count by the block they lie in, and a lag by the highest it can be between two blocks.  That
is a few nats coarser than the sums by week and costs a small part of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from . import blocks
from .dates import Dates
from .lags import EARLY
from .time import Array, ComplexArray, IntArray

FEW = 64
"""Dates in more blocks than that are summed by Fourier transform."""


@dataclass(frozen=True, eq=False)
class Highest:
    """A function of (block of build weeks - block of dates) at its highest, by group of stock ages.

    ``ahead``: (G, n - 1 + n), for differences of -(n - 1) .. n - 1 blocks.
    """

    ahead: Array

    @property
    def count(self) -> int:
        """The blocks of the grid."""
        return (self.ahead.shape[1] + 1) // 2

    @cached_property
    def _by_date(self) -> Array:
        """The function over all build blocks, for each block of dates: a view, (G, n, n)."""
        return sliding_window_view(self.ahead, self.count, axis=1)[:, ::-1]

    @cached_property
    def _spectrum(self) -> ComplexArray:
        return np.fft.rfft(self.ahead, self._length, axis=1)

    @property
    def _length(self) -> int:
        return 1 << (3 * self.count).bit_length()

    def over(self, at: IntArray, mass: Array) -> Array:
        """At least the sum over dates with a mass in some blocks; (G, n)."""
        if at.size <= FEW:
            # not by BLAS: its threads cost more than sums of this size
            return np.einsum("k,gkn->gn", mass, self._by_date[:, at])
        n = self.count
        dense = np.zeros(n)
        dense[at] = mass
        full = np.fft.irfft(np.fft.rfft(dense, self._length) * self._spectrum, self._length, axis=1)
        # a transform is exact to a part in 1e16 of its highest value, no further
        return np.maximum(full[:, n - 1 : 2 * n - 1], 0.0) + 1e-15 * full.max()


@dataclass(frozen=True, eq=False)
class Bounds:
    """The highest of a lag table ``P(L = n | u)``, n = -EARLY..size-1, between blocks."""

    table: Array

    @cached_property
    def _size(self) -> int:
        return self.table.shape[1] - EARLY

    @cached_property
    def _exact(self) -> Highest:
        """P(L = B - D)."""
        n, step = blocks.count(self._size), blocks.BLOCK
        top = blocks.by_age(self.table)
        # from the last date of a block to the first build week of another, and 2 blocks less 1 on
        width = 2 * step - 1
        first = (n - 1) * step + step - 1 - EARLY
        padded = np.zeros((top.shape[0], first + top.shape[1] + width + step))
        padded[:, first : first + top.shape[1]] = top
        start = np.arange(2 * n - 1) * step
        return Highest(sliding_window_view(padded, width, axis=1)[:, start].max(axis=2))

    @cached_property
    def _longer(self) -> Highest:
        """P(L > B - D), of the first stock age."""
        n, step = blocks.count(self._size), blocks.BLOCK
        at_least = np.append(np.cumsum(self.table[0, ::-1])[::-1], 0.0)
        shortest = np.arange(-(n - 1), n) * step - (step - 1) + 1
        return Highest(at_least[np.maximum(shortest + EARLY, 0)][None])

    def made(self, d: Dates) -> Array:
        """At least sum over D of P(L = B - D | u) d(D); (G, blocks)."""
        return self._exact.over(*d.by_block)

    def put_in(self, d: Dates, after: float, last: float) -> Array:
        """At least the mean over R = B+1..T-1 of sum_D P(L = R - D) d(D), T-1 for the last week;
        (blocks,).

        ``after``: sum over D of P(L >= T - D) d(D); ``last``: what the last week has.
        """
        size = self._size
        lasts = np.minimum(np.arange(blocks.count(size)) * blocks.BLOCK + blocks.BLOCK, size) - 1
        at, mass = d.by_block
        total = self._longer.over(at, mass)[0] - after + 1e-14 * float(mass.sum())
        out = total / np.maximum(size - 1 - lasts, 1)
        # the last week has a mean of its own, in no sum of the weeks before it
        out[-1] = max(float(out[-1]), last)
        return out


def window_bound(t: Dates, half: int) -> Array:
    """At least the mean of t over [B - half, B + half] cut to the grid, in every week of a block;
    (blocks,).
    """
    firsts = np.arange(blocks.count(t.size)) * blocks.BLOCK
    lasts = np.minimum(firsts + blocks.BLOCK, t.size) - 1
    lo, hi_first = window_ends(firsts, half, t.size)
    lo_last, hi = window_ends(lasts, half, t.size)
    return t.between(lo, hi) / np.minimum(hi_first - lo, hi - lo_last)


def window_ends(weeks: IntArray, half: int, size: int) -> tuple[IntArray, IntArray]:
    """[B - half, B + half] cut to the grid: its first week, and the one after its last."""
    return np.maximum(weeks - half, 0), np.minimum(weeks + half, size - 1) + 1
