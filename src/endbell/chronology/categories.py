"""Features and measured quantities: which values a model had in a week. docs/model.md, section
8.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, pi, sqrt

import numpy as np

from ..reference.types import Alternative, Feature, FeatureValue, Quantity
from .time import Array, Grid, IntArray

ABSENT = "absent"
TINY = 1e-200


@dataclass(frozen=True, eq=False)
class Category:
    """The distribution of a feature over its values, for every model and week.

    ``original``: shape (n, M, size), sums to one over values; ``match``: shape (n, M), what someone
    would fit to look right; ``cost``: cost to fake.  ``leak``: eps of the model.
    """

    values: tuple[str, ...]
    original: Array
    match: Array
    cost: float
    leak: float

    @property
    def nbytes(self) -> int:
        return int(self.original.nbytes)

    def on(self, weeks: IntArray) -> Category:
        """The same on some build weeks only."""
        return Category(self.values, self.original[:, :, weeks], self.match, self.cost, self.leak)

    def seen(self, value: str) -> Array:
        """P(value | original), shape (M, size)."""
        if value in self.values:
            return self.original[self.values.index(value)]
        return np.full(self.original.shape[1:], self.leak / len(self.values))

    def replaced(self, value: str) -> Array:
        """P(value | replaced), shape (M, 1)."""
        n = len(self.values)
        match = (
            self.match[self.values.index(value)]
            if value in self.values
            else np.full(self.match.shape[1], self.leak / n)
        )
        return ((1.0 - self.cost) * match + self.cost / n)[:, None]

    def interval(self, value: str) -> tuple[Array, Array]:
        """Where the value lies in the cumulative distribution: lower and upper end, (M, size)."""
        i = self.values.index(value)
        low = self.original[:i].sum(axis=0)
        return low, low + self.original[i]


def category(
    rows: Sequence[FeatureValue | Alternative],
    softness: float,
    cost: float,
    leak: float,
    models: Sequence[str | None],
    runs: Array,
    grid: Grid,
    *,
    with_absent: bool,
) -> Category:
    """The category of a feature's rows. ``runs``: R_m(B), shape (M, size)."""
    values = list(dict.fromkeys(r.value for r in rows))
    if with_absent and ABSENT not in values:
        values.append(ABSENT)
    n = len(values)
    out = np.empty((n, len(models), grid.size))
    windows = [r.window.weight * grid.soft_window(r.window, softness) for r in rows]
    for m, model in enumerate(models):
        amount = np.zeros((n, grid.size))
        for row, window in zip(rows, windows, strict=True):
            if not row.models or model in row.models:
                amount[values.index(row.value)] += window
        whole = amount.sum(axis=0)
        known = whole >= TINY
        share = np.where(known, amount / np.where(known, whole, 1.0), 1.0 / n)
        out[:, m] = (1.0 - leak) * share + leak / n
        if not amount.any():
            out[:, m] = 1.0 / n
    return Category(tuple(values), out, matched(out, runs), cost, leak)


def matched(original: Array, runs: Array) -> Array:
    """match_m(v) of values by week (n, M, size), (n, M). ``runs``: R_m(B), (M, size)."""
    share = runs / runs.sum(axis=1, keepdims=True)
    return np.matmul(original.transpose(1, 0, 2), share[:, :, None])[:, :, 0].T


def feature_category(
    feature: Feature, leak: float, models: Sequence[str | None], runs: Array, grid: Grid
) -> Category:
    return category(
        feature.values,
        feature.softness_weeks,
        feature.cost_to_fake,
        leak,
        models,
        runs,
        grid,
        with_absent=True,
    )


def quantity_category(
    quantity: Quantity, leak: float, models: Sequence[str | None], runs: Array, grid: Grid
) -> Category:
    return category(
        quantity.alternatives,
        quantity.softness_weeks,
        quantity.cost_to_fake,
        leak,
        models,
        runs,
        grid,
        with_absent=False,
    )


def measured_fit(
    quantity: Quantity, x: float, uncertainty: float, values: Sequence[str], leak: float
) -> Array:
    """P(x | value) for every value, shape (n,): Gaussian with a flat leak."""
    rows = quantity.alternatives
    width = {r.value: sqrt(r.sd**2 + uncertainty**2) for r in rows}
    mean = {r.value: r.mean for r in rows}
    span = max(mean.values()) - min(mean.values()) + 20.0 * max(width.values())
    return np.array(
        [
            (1.0 - leak) * _normal_density(min(abs(x - mean[v]) / width[v], 1e3)) / width[v]
            + leak / span
            for v in values
        ]
    )


def _normal_density(z: float) -> float:
    return exp(-0.5 * z * z) / sqrt(2 * pi)


def joint_seen(seen: Sequence[tuple[Category, str]]) -> Array:
    """P(all these values | all original) for features that changed together; shape (M, size)."""
    if len(seen) == 1:
        return seen[0][0].seen(seen[0][1])
    apart = np.prod([c.seen(v) for c, v in seen], axis=0)
    leak = seen[0][0].leak
    if any(v not in c.values for c, v in seen):
        return leak * apart
    low, high = seen[0][0].interval(seen[0][1])
    for c, v in seen[1:]:
        a, b = c.interval(v)
        low, high = np.maximum(low, a), np.minimum(high, b)
    return (1.0 - leak) * np.maximum(high - low, 0.0) + leak * apart
