"""Weeks between the making of a part and the building (or the repair) of the amp.

Discretised log-normal with an exponential old-stock tail and a small early mass, docs/model.md 6.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import erfc, exp, log, pi, sqrt

import numpy as np

from .time import Array

EARLY = 8  # weeks by which a mis-stamped part may be dated after the amp
NODES = 13


@dataclass(frozen=True, slots=True)
class Lag:
    """Parameters of a lag: median and old-stock mean in weeks, the rest without unit."""

    median: float
    sigma: float
    old_weight: float
    old_mean: float
    early: float = 0.0

    @classmethod
    def of_class(cls, name: str, assume: Mapping[str, float]) -> Lag:
        p = f"lag.{name}."
        return cls(
            assume[p + "median_weeks"],
            assume[p + "sigma"],
            assume[p + "old_stock_weight"],
            assume[p + "old_stock_mean_weeks"],
            assume[p + "early_weight"],
        )

    @classmethod
    def of_service(cls, assume: Mapping[str, float]) -> Lag:
        p = "service."
        return cls(
            assume[p + "median_weeks"],
            assume[p + "sigma"],
            assume[p + "old_stock_weight"],
            assume[p + "old_stock_mean_weeks"],
        )

    def table(self, size: int, stock_age: Array) -> Array:
        """P(L = n | u) for n = -EARLY .. size-1; shape (len(stock_age), size + EARLY).

        ``stock_age``: values of u, which scale the log-normal median by exp(u).
        """
        n = np.arange(size, dtype=np.float64)
        r = exp(-1.0 / self.old_mean)
        old = (1.0 - r) * r**n
        out = np.empty((len(stock_age), size + EARLY))
        out[:, :EARLY] = self.early / EARLY
        body = 1.0 - self.old_weight - self.early
        for i, u in enumerate(stock_age.tolist()):
            out[i, EARLY:] = body * log_normal(size, log(self.median) + u, self.sigma)
            out[i, EARLY:] += self.old_weight * old
        return out


def log_normal(size: int, mu: float, sigma: float) -> Array:
    """P(floor(X) = n), n = 0..size-1, X log-normal(mu, sigma); shape (size,)."""
    upper = upper_tail((_logs(size) - mu) / sigma)
    out = np.empty(size)
    out[0] = 1.0 - upper[0]
    out[1:] = upper[:-1] - upper[1:]
    return np.maximum(out, 0.0)


STEP = 1.0 / 256
REACH = 9.0  # beyond this many standard deviations the tail is below 1e-18


def upper_tail(z: Array) -> Array:
    """P(Z > z) of the standard normal, to 1e-15, for a whole array; same shape.

    A Taylor series of fifth order from the nearest point of a table of the exact function: the
    n-th derivative of the normal density is (-1)^n He_n(z) times it (Abramowitz and Stegun, 26.2).
    """
    inside = np.clip(z, -REACH, REACH)
    at = np.rint(inside / STEP)
    x = at * STEP
    tail = _tail_table()[at.astype(np.int64) + round(REACH / STEP)]
    h = inside - x
    density = np.exp(-0.5 * x * x) * (1.0 / sqrt(2.0 * pi))
    x2 = x * x
    series = h * (
        1.0
        + h
        * (-x / 2 + h * ((x2 - 1) / 6 + h * ((3 - x2) * x / 24 + h * (x2 * (x2 - 6) + 3) / 120)))
    )
    return np.where(z > REACH, 0.0, np.maximum(tail - density * series, 0.0))


@lru_cache(maxsize=1)
def _tail_table() -> Array:
    n = round(REACH / STEP)
    return np.array([0.5 * erfc(i * STEP / sqrt(2.0)) for i in range(-n, n + 1)])


@lru_cache(maxsize=4)
def _logs(size: int) -> Array:
    return np.log(np.arange(1, size + 1, dtype=np.float64))


def stock_age_nodes(sigma: float) -> tuple[Array, Array]:
    """Values of u and their weights: NODES equally spaced within three standard deviations."""
    z = np.linspace(-3.0, 3.0, NODES)
    w = np.exp(-0.5 * z * z)
    return sigma * z, w / w.sum()
