"""Lags: original, service, label (docs/model.md, sections 6 and 8)."""

from __future__ import annotations

import math

import numpy as np

EARLY = 8
"""A stamp may be up to this many weeks later than the amp."""


def phi(x: float) -> float:
    return 0.5 * math.erfc(-x / math.sqrt(2))


def log_normal(n: int, median: float, sigma: float) -> float:
    """LN(n): the mass of a log-normal between n and n + 1 weeks."""
    upper = phi((math.log(n + 1) - math.log(median)) / sigma)
    lower = phi((math.log(n) - math.log(median)) / sigma) if n > 0 else 0.0
    return upper - lower


def lag_table(
    longest: int, median: float, sigma: float, old_weight: float, old_mean: float, early: float
) -> np.ndarray:
    """P(L = n) for n = -EARLY .. longest, shape (longest + EARLY + 1,); n stands at n + EARLY."""
    r = math.exp(-1 / old_mean)
    out = []
    for n in range(-EARLY, longest + 1):
        if n < 0:
            out.append(early / EARLY)
        else:
            tail = (1 - r) * r**n
            out.append((1 - old_weight - early) * log_normal(n, median, sigma) + old_weight * tail)
    return np.array(out)


def by_difference(table: np.ndarray, total: int) -> np.ndarray:
    """The matrix [later week, earlier week] of P(later - earlier), shape (total, total)."""
    n = np.arange(total)[:, None] - np.arange(total)[None, :]
    return np.where(n >= -EARLY, table[np.maximum(n, -EARLY) + EARLY], 0.0)


def label_lag(median: float, sigma: float, longest: int = 520) -> np.ndarray:
    """The label's lag on 0..longest, normalised there."""
    table = np.array([log_normal(n, median, sigma) for n in range(longest + 1)])
    return table / table.sum()


def ewens(sizes: list[int], alpha: float) -> float:
    """P(this labelled partition) of sum(sizes) parts into deliveries of these sizes."""
    n = sum(sizes)
    top = alpha ** len(sizes) * math.prod(math.factorial(s - 1) for s in sizes)
    return top / math.prod(alpha + i for i in range(n))


def stock_age(sigma: float) -> tuple[np.ndarray, np.ndarray]:
    """The 13 nodes u and their weights."""
    z = np.array([-3 + 0.5 * k for k in range(13)])
    weight = np.exp(-(z**2) / 2)
    return sigma * z, weight / weight.sum()


def partitions(things: list[str]) -> list[list[list[str]]]:
    """All labelled set partitions (one empty one of nothing)."""
    if not things:
        return [[]]
    first, rest = things[0], things[1:]
    out: list[list[list[str]]] = []
    for smaller in partitions(rest):
        out.append([[first], *smaller])
        for i, block in enumerate(smaller):
            out.append([*smaller[:i], [first, *block], *smaller[i + 1 :]])
    return out
