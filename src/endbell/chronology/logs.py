"""Products and sums of likelihoods that would underflow: in logs, taken as seldom as is safe."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from .time import Array


def log_product(factors: Sequence[Array]) -> Array:
    """ln of the product of non-negative arrays that broadcast; logs are taken as seldom as is safe.

    >>> log_product([np.array([2.0]), np.array([3.0])]).ravel().round(6).tolist()
    [1.791759]
    """
    total: Array = np.zeros((1, 1, 1))
    product: Array | None = None
    room = 0.0
    for f in factors:
        peak = f.max()
        low = f.min()
        need = 750.0 if low <= 0 or peak <= 0 else float(abs(np.log(low)) + abs(np.log(peak)))
        if product is not None and room + need < 600.0 and product.shape[0] == f.shape[0]:
            product = product * f
            room += need
        else:
            if product is not None:
                total = total + log_of(product)
            product, room = f, need
    return total if product is None else total + log_of(product)


def log_of(a: Array) -> Array:
    """ln, with -inf for what can't be."""
    with np.errstate(divide="ignore"):
        return np.log(a)


def log_sum(a: Array) -> float:
    """ln sum exp of a whole array; -inf if nothing is possible."""
    peak = float(a.max())
    if not np.isfinite(peak):
        return float("-inf")
    return peak + float(np.log(np.exp(a - peak).sum()))


ROOM = 1e-150
"""A product whose highest value is at least that has lost nothing that could be told."""


def scaled_product(factors: Sequence[Array], logs: Sequence[Array]) -> tuple[Array, float]:
    """The product of factors, and of the exponentials of ``logs``, up to a factor; and its ln.

    Everything broadcasts to three axes.  Factors of one shape are multiplied first; values that are
    1e-150 of the highest may come out as nothing.  In logs only where a product would underflow.
    """
    scale = 0.0
    groups: dict[tuple[int, ...], Array] = {}
    scaled: list[Array] = []
    for f in factors:
        peak = float(f.max())
        if peak <= 0.0:
            return np.zeros(np.broadcast_shapes(*(g.shape for g in (*factors, *logs)))), 0.0
        scale += float(np.log(peak))
        scaled.append(f * (1.0 / peak))
    for a in logs:
        peak = float(a.max())
        if not np.isfinite(peak):
            return np.zeros(np.broadcast_shapes(*(g.shape for g in (*factors, *logs)))), 0.0
        scale += peak
        scaled.append(np.exp(a - peak))
    for f in scaled:
        groups[f.shape] = groups[f.shape] * f if f.shape in groups else f
    product: Array | None = None
    for f in sorted(groups.values(), key=lambda g: g.size):
        product = f if product is None else product * f
    assert product is not None
    if product.max() >= ROOM:
        return product, scale
    log = log_product(scaled)
    peak = float(log.max())
    if not np.isfinite(peak):
        return np.zeros(log.shape), 0.0
    return np.exp(log - peak), scale + peak


def log_total(product: Array, scale: float) -> float:
    """ln of the sum of a scaled product; -inf if nothing is possible."""
    total = float(product.sum())
    return scale + float(np.log(total)) if total > 0.0 else float("-inf")


class Summing:
    """Sums of one array times others of fewer axes: what they lack is summed over but once."""

    def __init__(self, weight: Array) -> None:
        self._weight = weight

    def times(self, a: Array) -> float:
        """The sum of the weight times ``a``, both (M or 1, U or 1, weeks or 1)."""
        wide = a.shape
        # not by BLAS: its threads cost more than sums of this size, and their number shows
        if wide == self._weight.shape:
            return float(np.einsum("muw,muw->", self._weight, a))
        if wide == self._by_week.shape:
            return float(np.einsum("muw,muw->", self._by_week, a))
        return float((self._weight * a).sum())

    @cached_property
    def _by_week(self) -> Array:
        return self._weight.sum(axis=(0, 1), keepdims=True)
