"""Ranks of the truth in its posterior, and whether they are as even as they ought to be.

Where data are drawn from the model that weighs them, the place of the true week within its
posterior is uniform (Talts, Betancourt, Simpson, Vehtari, Gelman 2018, simulation-based
calibration).  Whether N such places are uniform is judged by the difference of their empirical
distribution from the diagonal, with a band that holds all of it at once with a stated chance
(Säilynoja, Bürkner, Vehtari 2022, Statistics and Computing 32:32).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Counts = NDArray[np.int64]

LEVEL = 0.99
MOST_POINTS = 1000
"""The distribution is looked at in this many evenly spaced places at most."""

REACH = 12.0  # standard deviations of a count beyond which its tables hold nothing


def randomised_rank(p: Array, true_week: int, v: float) -> float:
    """Where the truth stands in its posterior: P(B < truth) + v P(B = truth).

    ``p``: P of every week, shape (T,); ``v`` uniform on [0, 1) and drawn for this dossier alone: it
    spreads a tie evenly, so that the place is uniform although weeks are whole.

    >>> randomised_rank(np.array([0.25, 0.5, 0.25]), 1, 0.5)
    0.5
    """
    return float(min(p[:true_week].sum() + v * p[true_week], 1.0))


@dataclass(frozen=True, eq=False)
class Band:
    """Limits of the counts of N uniform numbers up to each z, all kept at once with ``level``.

    ``z``: places, shape (K,); ``lower``, ``upper``: counts, both allowed; ``gamma``: what every
    place alone is given to miss; ``held``: the exact chance that all are kept, at least ``level``.
    """

    n: int
    level: float
    z: Array
    lower: Counts
    upper: Counts
    gamma: float
    held: float


@dataclass(frozen=True, eq=False)
class RankTest:
    """``difference``: empirical distribution minus z, shape (K,); ``p_value``: the exact chance
    that uniform ranks go, anywhere, at least as far out as these go.
    """

    band: Band
    difference: Array
    inside: bool
    p_value: float


def judge_ranks(ranks: Array, level: float = LEVEL) -> RankTest:
    """Judge ranks in [0, 1], shape (N,), by the band of that level."""
    band = simultaneous_band(ranks.size, level)
    counts = np.searchsorted(np.sort(ranks), band.z, side="right")
    inside = bool(((counts >= band.lower) & (counts <= band.upper)).all())
    return RankTest(band, counts / ranks.size - band.z, inside, _p_value(counts, ranks.size))


@lru_cache(maxsize=16)
def simultaneous_band(n: int, level: float = LEVEL) -> Band:
    """The band for ``n`` uniform numbers, adjusted until all of it is kept with ``level``.

    Every place has the central interval of its binomial count, missed with ``gamma`` at most; gamma
    is the largest for which the exact chance of keeping all intervals (:func:`held`) is ``level``.
    """
    tables = _Binomials(n, places(n))
    low, high = 0.0, 1.0 - level  # all intervals of 1 - level can't be kept more surely than one
    for _ in range(40):
        middle = (low + high) / 2 if low > 0 else high / 4
        if held(n, tables.z, *tables.interval(middle)) >= level:
            low = middle
        else:
            high = middle
        if high - low < 1e-6 * high:
            break
    lower, upper = tables.interval(low)
    return Band(n, level, tables.z, lower, upper, low, held(n, tables.z, lower, upper))


def places(n: int) -> Array:
    """Evenly spaced places inside (0, 1): as many intervals as ranks, up to MOST_POINTS."""
    k = min(n, MOST_POINTS)
    return np.arange(1, k) / k


def held(n: int, z: Array, lower: Counts, upper: Counts) -> float:
    """P(lower <= count of uniform numbers <= z, <= upper; at every z at once), exactly.

    ``z`` rising inside (0, 1).  The counts between places are multinomial, which is what
    independent Poisson counts are once their sum is known: the chance is carried from place to
    place by convolution and divided by P(sum = n).  It is the recursion of Säilynoja et al.
    (2022, section 3.1) with its binomial steps replaced by Poisson ones.
    """
    start, at, previous = 0, np.ones(1), 0.0
    for place, lo, hi in zip(z.tolist(), lower.tolist(), upper.tolist(), strict=True):
        step = _poisson(n * (place - previous), hi - start)
        moved = np.convolve(at, step)
        at = moved[lo - start : hi - start + 1]
        start, previous = lo, place
    last = _poisson(n * (1.0 - previous), n - start)
    if last.size < n - start + 1:
        last = np.pad(last, (0, n - start + 1 - last.size))
    k = np.arange(at.size)
    whole = _log_factorials(n)[n] - n * np.log(n) + n
    return float((at * last[n - start - k]).sum() * np.exp(whole))


class _Binomials:
    """Tails of the binomial counts at every place, in a window that holds all that matters."""

    def __init__(self, n: int, z: Array) -> None:
        self.n, self.z = n, z
        reach = np.ceil(REACH * np.sqrt(n * z * (1 - z)) + REACH)
        self.first = np.maximum(np.floor(n * z - reach), 0).astype(np.int64)
        width = int(2 * reach.max(initial=1.0)) + 3
        k = self.first[:, None] + np.arange(width)
        inside = k <= n
        k = np.minimum(k, n)
        f = _log_factorials(n)
        log_p = f[n] - f[k] - f[n - k] + k * np.log(z)[:, None] + (n - k) * np.log1p(-z)[:, None]
        p = np.where(inside, np.exp(log_p), 0.0)
        self.at_most = np.cumsum(p, axis=1)
        self.at_least = np.cumsum(p[:, ::-1], axis=1)[:, ::-1]

    def interval(self, gamma: float) -> tuple[Counts, Counts]:
        """Central intervals: the quantiles of gamma/2 and 1 - gamma/2."""
        low = (self.at_most < gamma / 2).sum(axis=1)
        # the upper quantile is the smallest count with no more than gamma/2 above it
        above = np.concatenate([self.at_least[:, 1:], np.zeros((self.z.size, 1))], axis=1)
        high = (above > gamma / 2).sum(axis=1)
        return self.first + low, np.minimum(self.first + high, self.n)

    def two_sided(self, counts: Counts) -> float:
        """The smallest of 2 min(P(<= count), P(>= count)) over the places."""
        i = np.clip(counts - self.first, -1, self.at_most.shape[1] - 1)
        rows = np.arange(self.z.size)
        below = np.where(i < 0, 0.0, self.at_most[rows, i])
        outside = counts - self.first >= self.at_most.shape[1]
        above = np.where(outside, 0.0, self.at_least[rows, np.maximum(i, 0)])
        return float(min(1.0, 2 * np.minimum(below, above).min()))


def _p_value(counts: Counts, n: int) -> float:
    tables = _Binomials(n, places(n))
    gamma = tables.two_sided(counts)
    # a hair narrower than the band that just keeps these counts
    return max(0.0, 1.0 - held(n, tables.z, *tables.interval(gamma * (1 + 1e-9))))


def _poisson(mean: float, most: int) -> Array:
    """P(k), k = 0..most, cut where it holds nothing any more."""
    top = min(most, int(mean + REACH * np.sqrt(mean) + 40))
    k = np.arange(top + 1)
    return np.exp(k * np.log(mean) - mean - _log_factorials(top)[: top + 1])


@lru_cache(maxsize=8)
def _table(size: int) -> Array:
    return np.concatenate([np.zeros(1), np.cumsum(np.log(np.arange(1, size + 1)))])


def _log_factorials(n: int) -> Array:
    """ln k!, k = 0..n at least."""
    return _table(1 << max(n, 1).bit_length())
