"""Expected numbers of a dated part alone of its class that reads one way: the commonest case.

Its three accounts are known from the weighing; only lags and sources are left to be told apart.
"""

from __future__ import annotations

import numpy as np

from .expected_group import GroupCounts, split_of
from .expected_kernel import LagKernel
from .lone import Lone
from .plan import Plan
from .time import Array, IntArray, on_weeks


def reads_one_way(plan: Plan) -> bool:
    """Whether the plan is one part's, of one text that a delivery can have brought."""
    if not plan.lone or len(plan.kinds[0].texts) != 1:
        return False
    (component,) = plan.components
    return (1,) in component.blocks


def lone_counts(
    plan: Plan, lone: Lone, models: IntArray, at: IntArray, weeks: IntArray, weight: Array
) -> GroupCounts:
    """As :func:`~endbell.chronology.expected_group.group_counts` without digits.

    ``lone``: the part weighed; ``at``: the places of ``weeks`` in it.
    """

    def cut(a: Array) -> Array:
        mine = a[models] if a.shape[0] > 1 else a
        return mine[:, :, at]

    original, later, period = cut(lone.as_original), cut(lone.as_later), cut(lone.as_period)
    value = original + (later + period)
    with np.errstate(divide="ignore", invalid="ignore"):
        q = np.where(value > 0, weight / value, 0.0)
    by_age = original * q
    by_week = by_age.sum(axis=1)
    rest = q.sum(axis=1)
    later_n, period_n = rest * later[:, 0], rest * period[:, 0]
    (text,) = plan.kinds[0].texts
    date = text.shipped(plan.lags.spread)
    kernel = LagKernel(plan, weeks, weight.sum(axis=(0, 1)), date.at, date.values[None])
    made = kernel.forwards()[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        per_lag = np.where(made > 0, by_age.sum(axis=0) / made, 0.0)
    lags = kernel.lags(per_lag[:, None])
    bought: dict[str, Array] = {}
    bought_later: dict[str, float] = {}
    if text.source is not None:
        split = split_of(plan, (text.source,))
        p = plan.weigh((text.source,)).original
        mine = p[models] if p.shape[0] > 1 else p
        source = on_weeks(mine, weeks)
        with np.errstate(divide="ignore", invalid="ignore"):
            per_source = np.where(source > 0, by_week / source, 0.0)
        bought = split.originals(per_source, models, weeks)
        bought_later = split.scaled(float(later_n.sum() + period_n.sum()))
    return GroupCounts(
        by_week[None],
        later_n[None],
        period_n[None],
        lags,
        bought,
        bought_later,
        {},
        {},
        float(by_week.sum()),
    )
