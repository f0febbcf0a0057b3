"""Weeks between the making of a part and the building (or the repair) of the amp.

Discretised log-normal with an exponential old-stock tail and a small early mass, docs/model.md 6.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import erf, exp, log, sqrt

import numpy as np

from .time import Array

EARLY = 8  # weeks by which a mis-stamped part may be dated after the amp
NODES = 13
_erf = np.frompyfunc(erf, 1, 1)


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
    z = (np.log(np.arange(1, size + 1, dtype=np.float64)) - mu) / (sigma * sqrt(2.0))
    upper = np.zeros(size)
    # beyond 6 standard units erfc is below 1e-16: no need to ask erf there
    near = z < 6.0
    tail = 0.5 * (1.0 - np.asarray(_erf(z[near]), dtype=np.float64))
    upper[near] = tail
    out = np.empty(size)
    out[0] = 1.0 - upper[0]
    out[1:] = upper[:-1] - upper[1:]
    return np.maximum(out, 0.0)


def stock_age_nodes(sigma: float) -> tuple[Array, Array]:
    """Values of u and their weights: NODES equally spaced within three standard deviations."""
    z = np.linspace(-3.0, 3.0, NODES)
    w = np.exp(-0.5 * z * z)
    return sigma * z, w / w.sum()
