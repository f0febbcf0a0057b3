"""Blocks of neighbouring weeks and stock ages: coarse enough to rule most of the grid out at little
cost.
"""

from __future__ import annotations

import numpy as np

from .time import Array, BoolArray, IntArray

BLOCK = 8
"""Weeks in a block; the last one of a grid may be shorter."""


def count(size: int) -> int:
    """How many blocks a grid of ``size`` weeks has."""
    return -(-size // BLOCK)


def highest(values: Array) -> Array:
    """The highest value in each block of the last axis; (..., weeks) -> (..., blocks).

    >>> highest(np.array([1.0, 5.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0, 3.0])).tolist()
    [5.0, 3.0]
    """
    if values.shape[-1] == 1:
        return values  # the same in every week
    whole = values.shape[-1] // BLOCK * BLOCK
    body = values[..., :whole].reshape(*values.shape[:-1], -1, BLOCK).max(axis=-1)
    if whole == values.shape[-1]:
        return body
    return np.concatenate([body, values[..., whole:].max(axis=-1, keepdims=True)], axis=-1)


AGES = 5
"""Groups of neighbouring stock ages that a bound is worked out for."""


def by_age(values: Array) -> Array:
    """The highest over groups of neighbouring stock ages; (U, ...) -> (AGES or U, ...)."""
    if values.shape[0] <= AGES:
        return values
    ends = [len(values) * i // AGES for i in range(AGES)]
    return np.maximum.reduceat(values, ends, axis=0)


def weeks_of(blocks: IntArray, size: int) -> IntArray:
    """All weeks of some (rising) blocks."""
    weeks = (blocks[:, None] * BLOCK + np.arange(BLOCK)).ravel()
    return weeks[: int(weeks.searchsorted(size))]


def blocks_of(weeks: IntArray, size: int) -> BoolArray:
    """Which blocks hold any of the weeks, (blocks,)."""
    out = np.zeros(count(size), dtype=np.bool_)
    out[weeks // BLOCK] = True
    return out
