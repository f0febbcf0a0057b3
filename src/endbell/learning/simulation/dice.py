"""The randomness of one dossier: uniform numbers in stock, and the plain draws made from them."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import accumulate
from math import exp, log, log1p
from typing import TypeVar

import numpy as np

T = TypeVar("T")
_STOCK = 256
_FARTHEST = 30.0  # e-folds of a lag: beyond any grid


class Again(Exception):
    """This truth does not fit the design: keep the design, draw the truth again."""


class Dice:
    """Random draws for dossier ``i`` of the run ``seed``: the same whatever was drawn before."""

    def __init__(self, seed: int, i: int) -> None:
        self._rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, i])))
        self._stock: Iterator[float] = iter(())

    def u(self) -> float:
        """Uniform on [0, 1)."""
        for x in self._stock:
            return x
        self._stock = iter(self._rng.random(_STOCK).tolist())
        return next(self._stock)

    def chance(self, p: float) -> bool:
        """True with probability p."""
        return self.u() < p

    def keep(self, p: float) -> None:
        """Go on with probability p, else raise :class:`Again`."""
        if p < 1.0 and self.u() >= p:
            raise Again

    def below(self, n: int) -> int:
        """Uniform on 0..n-1."""
        return int(self.u() * n)

    def between(self, low: int, high: int) -> int:
        """Uniform on low..high, both included."""
        return low + int(self.u() * (high - low + 1))

    def one_of(self, items: Sequence[T]) -> T:
        """One of the items, all equally likely."""
        return items[int(self.u() * len(items))]

    def pick(self, cumulative: Sequence[float]) -> int:
        """Index drawn by running sums of weights (not normalised)."""
        found = bisect_right(cumulative, self.u() * cumulative[-1])
        return min(found, len(cumulative) - 1)

    def weighted(self, weights: Sequence[float]) -> int:
        """Index drawn by weights."""
        return self.pick(list(accumulate(weights)))

    def some(self, items: Sequence[T], n: int) -> list[T]:
        """n of the items, without replacement, in random order."""
        left = list(items)
        return [left.pop(self.below(len(left))) for _ in range(min(n, len(left)))]

    def normal(self) -> float:
        """Standard normal."""
        return float(self._rng.standard_normal())

    def student(self, freedom: int) -> float:
        """Student's t."""
        return float(self._rng.standard_t(freedom))

    def exponential_weeks(self, mean: float) -> int:
        """n with P(n) = (1 - r) r^n, r = exp(-1/mean): whole weeks of an exponential wait."""
        return int(-mean * log1p(-self.u()))

    def log_normal_weeks(self, median: float, sigma: float, heavy: bool) -> int:
        """Whole weeks of a log-normal wait; ``heavy``: log-Student-t with three degrees."""
        z = self.student(3) if heavy else self.normal()
        return int(exp(min(log(median) + sigma * z, _FARTHEST)))

    def race(self, weights: np.ndarray, n: int) -> list[int]:
        """Indices of n items drawn without replacement by weights, the first drawn first."""
        arrival = self._rng.exponential(size=len(weights)) / weights
        return np.argsort(arrival, kind="stable")[:n].tolist()
