"""A likelihood over the weeks that is nothing on most of them, as a date code's is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from . import blocks
from .time import Array, IntArray

SPARSE_RUNS = 60
"""Dates in more runs of weeks than that (or in twelve times as many weeks) have no pattern."""

ROUNDED = 14
"""Digits by which patterns of a few weeks are told apart."""


@dataclass(frozen=True, eq=False)
class Runs:
    """Runs of neighbouring weeks with the same pattern, up to a scale.

    ``pattern``: (length,), at most 1; ``starts``: first week of each; ``scales``: (runs,).
    """

    pattern: Array
    starts: IntArray
    scales: Array

    @cached_property
    def key(self) -> bytes:
        return self.pattern.tobytes()


@dataclass(frozen=True, eq=False)
class Dates:
    """A non-negative function over weeks 0 .. size-1: ``values`` at the weeks ``at`` (rising), else
    nothing.
    """

    at: IntArray
    values: Array
    size: int

    @classmethod
    def of(cls, dense: Array) -> Dates:
        """From an array over all weeks."""
        at = dense.nonzero()[0]
        return cls(at, dense[at], dense.shape[0])

    @property
    def nbytes(self) -> int:
        """With the runs that are kept beside it."""
        return 3 * int(self.at.nbytes + self.values.nbytes)

    @property
    def possible(self) -> bool:
        """Whether any week can be it."""
        return self.at.size > 0

    @cached_property
    def key(self) -> tuple[bytes, bytes]:
        """Equal for equal functions."""
        return self.at.tobytes(), self.values.tobytes()

    @property
    def dense(self) -> Array:
        """The same as an array over all weeks, shape (size,)."""
        out = np.zeros(self.size)
        out[self.at] = self.values
        return out

    @cached_property
    def by_block(self) -> tuple[IntArray, Array]:
        """The blocks of weeks it lies in, and its sum in each."""
        at = self.at // blocks.BLOCK
        first = np.flatnonzero(np.diff(at, prepend=-1))
        return at[first], np.add.reduceat(self.values, first) if first.size else self.values

    def times(self, other: Dates) -> Dates:
        """The product, week by week."""
        if self.at.size == 0 or other.at.size == 0:
            return Dates(self.at[:0], self.values[:0], self.size)
        place = np.minimum(other.at.searchsorted(self.at), other.at.size - 1)
        product = np.where(other.at[place] == self.at, self.values * other.values[place], 0.0)
        held = product.nonzero()[0]
        return Dates(self.at[held], product[held], self.size)

    def power(self, n: int) -> Dates:
        """The n-th power."""
        return self if n == 1 else Dates(self.at, self.values**n, self.size)

    def later_by(self, spread: Sequence[float]) -> Dates:
        """sum over e of P(e) t(D - e), e = 0, 1, ...: what left a factory some weeks after it was
        made.
        """
        if self.at.size == 0:
            return self
        dense = np.zeros(self.size + len(spread))
        for e, p in enumerate(spread):
            dense[self.at + e] += p * self.values
        return Dates.of(dense[: self.size])

    @cached_property
    def spread_out(self) -> bool:
        """Whether it lies on so many weeks that it is better treated as a whole."""
        if self.at.size > 12 * SPARSE_RUNS:
            return True
        return int(np.count_nonzero(self.at[1:] - self.at[:-1] > 1)) >= SPARSE_RUNS

    @cached_property
    def runs(self) -> tuple[Runs, ...]:
        """The runs of neighbouring weeks, those alike together."""
        if self.at.size == 0:
            return ()
        first = np.empty(self.at.size, dtype=bool)
        first[0] = True
        np.not_equal(self.at[1:] - self.at[:-1], 1, out=first[1:])
        begins = first.nonzero()[0]
        ends = np.append(begins[1:], self.at.size)
        scales = np.maximum.reduceat(self.values, begins)
        alike: dict[bytes, tuple[Array, list[int]]] = {}
        for i, (lo, hi) in enumerate(zip(begins.tolist(), ends.tolist(), strict=True)):
            pattern = (self.values[lo:hi] / scales[i]).round(ROUNDED)
            alike.setdefault(pattern.tobytes(), (pattern, []))[1].append(i)
        starts = self.at[begins]
        return tuple(Runs(p, starts[i], scales[i]) for p, i in alike.values())

    @cached_property
    def up_to(self) -> Array:
        """Sums of the values before each of ``at``, and of all: shape (len(at) + 1,)."""
        out = np.zeros(self.at.size + 1)
        np.cumsum(self.values, out=out[1:])
        return out

    def between(self, low: IntArray, high: IntArray) -> Array:
        """Sum over the weeks low <= week < high, for arrays of both."""
        up_to = self.up_to
        return up_to[self.at.searchsorted(high)] - up_to[self.at.searchsorted(low)]
