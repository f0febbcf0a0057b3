"""Whether what is said with 70% is so in 70 of 100 cases: curve, calibration error, Brier score.

Expected calibration error by **20 bins of equal width** on [0, 1].  Its doubtful part, of what was
stated between 0.05 and 0.95, is that of the 18 bins in the middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Truths = NDArray[np.bool_]
Owners = NDArray[np.integer]

BINS = 20
DOUBTFUL = (0.05, 0.95)


@dataclass(frozen=True, slots=True)
class Bin:
    """One bin: from, to, how many, mean of what was stated, share of it that was so."""

    low: float
    high: float
    n: int
    stated: float
    true: float


@dataclass(frozen=True, slots=True)
class Reliability:
    """How statements of one kind did.

    ``ece``: expected calibration error; ``ece_if_right``: its mean for statements that are exactly
    right, by chance alone; ``brier``: mean squared error; ``skill``: 1 - brier / that of stating
    the base rate each time; ``skill_if_right``: what statements that are exactly right are to be
    expected to have: what the dossiers tell, and nobody can say more; ``z``: whether more or fewer
    came true than stated, in standard errors over dossiers.
    """

    n: int
    base_rate: float
    ece: float
    ece_if_right: float
    brier: float
    skill: float
    skill_if_right: float
    z: float
    curve: tuple[Bin, ...]


def reliability(stated: Array, true: Truths, owner: Owners | None = None) -> Reliability:
    """Judge probabilities, shape (N,), by what was so.

    ``owner``: the dossier of each, shape (N,): statements about one amp hang together, and only
    dossiers are independent.  Left out, each stands alone.  Brier (1950), Monthly Weather Review
    78:1.
    """
    n = stated.size
    if n == 0:
        nan = float("nan")
        return Reliability(0, nan, nan, nan, nan, nan, nan, 0.0, ())
    curve, right = _bins(stated, true)
    base = float(true.mean())
    brier = float(((stated - true) ** 2).mean())
    plain = base * (1.0 - base)
    return Reliability(
        n,
        base,
        sum(b.n * abs(b.stated - b.true) for b in curve) / n,
        right,
        brier,
        1.0 - brier / plain if plain > 0 else float("nan"),
        _skill_if_right(stated),
        excess(stated, true, owner),
        curve,
    )


def doubtful(stated: Array) -> NDArray[np.bool_]:
    """Which statements leave room for doubt: those from 0.05 to 0.95, as the bins have it."""
    bins = bin_of(stated)
    return (bins > 0) & (bins < BINS - 1)


def bin_of(stated: Array) -> NDArray[np.int64]:
    """The bin of each statement; what stands on an edge belongs to the bin above it."""
    # a hair up: 0.15 * 20 is 3 to a person, and 2.9999999999999996 to a machine
    return np.clip((stated * BINS + 1e-9).astype(np.int64), 0, BINS - 1)


def excess(stated: Array, true: Truths, owner: Owners | None = None) -> float:
    """How many more came true than stated, in standard errors; 0 where nothing can differ.

    The variance of independent statements is sum p (1 - p).  Statements of one owner may hang
    together: then it is that of the sums by owner, where that is more.
    """
    over = true - stated
    variance = float((stated * (1.0 - stated)).sum())
    if owner is not None:
        _, which = np.unique(owner, return_inverse=True)
        over = np.bincount(which, weights=over)
        variance = max(variance, float((over**2).sum()))
    return float(over.sum()) / sqrt(variance) if variance > 0 else 0.0


def _skill_if_right(stated: Array) -> float:
    """1 - mean p (1 - p) over the variance of the mean of p: the resolution of the statements."""
    mean = float(stated.mean())
    plain = mean * (1.0 - mean)
    return 1.0 - float((stated * (1.0 - stated)).mean()) / plain if plain > 0 else float("nan")


def _bins(stated: Array, true: Truths) -> tuple[tuple[Bin, ...], float]:
    """The bins that hold anything, and the mean error of statements that are right.

    The error of a bin is then about normal with variance sum p (1 - p): E|X| = sd sqrt(2/pi).
    """
    which = bin_of(stated)
    count = np.bincount(which, minlength=BINS)
    said = np.bincount(which, weights=stated, minlength=BINS)
    so = np.bincount(which, weights=true, minlength=BINS)
    spread = np.bincount(which, weights=stated * (1.0 - stated), minlength=BINS)
    curve = tuple(
        Bin(i / BINS, (i + 1) / BINS, int(count[i]), said[i] / count[i], so[i] / count[i])
        for i in np.flatnonzero(count).tolist()
    )
    return curve, float(np.sqrt(spread).sum()) * sqrt(2 / pi) / stated.size
