"""How often the sets hold the truth, against the mass they say they hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Hits = NDArray[np.bool_]

LEVELS = ("0.50", "0.80", "0.95")


@dataclass(frozen=True, slots=True)
class Coverage:
    """``hit``: share of the sets that hold the truth; ``stated``: their mean mass.

    ``se``: standard error of ``hit - stated`` where every set holds what it says; ``z``: the
    difference in standard errors (0 where nothing could differ).
    """

    n: int
    hit: float
    stated: float
    se: float

    @property
    def difference(self) -> float:
        return self.hit - self.stated

    @property
    def z(self) -> float:
        return self.difference / self.se if self.se > 0 else 0.0


def coverage(hits: Hits, masses: Array) -> Coverage:
    """Coverage of sets with their own masses, both of shape (N,).

    A set of whole weeks holds a little more than its level, so each is held to its own mass m: the
    hits are Bernoulli(m) where the engine is right, and the standard error is
    sqrt(sum m (1 - m)) / N.

    >>> c = coverage(np.array([True, True, False, True]), np.full(4, 0.75))
    >>> c.difference, round(c.se, 4)
    (0.0, 0.2165)
    """
    n = hits.size
    if n == 0:
        return Coverage(0, float("nan"), float("nan"), 0.0)
    m = np.clip(masses, 0.0, 1.0)
    se = float(np.sqrt((m * (1.0 - m)).sum()) / n)
    return Coverage(n, float(hits.mean()), float(m.mean()), se)
