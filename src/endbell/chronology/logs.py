"""Products and sums of likelihoods that would underflow: in logs, taken as seldom as is safe."""

from __future__ import annotations

from collections.abc import Sequence

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
