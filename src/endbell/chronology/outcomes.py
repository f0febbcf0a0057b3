"""What a look could find: P(outcome, part original | m, B, u) and P(outcome, not original | ...).

The tables behind the next checks (docs/model.md, section 10, item 7).  Axes: outcome, model, stock
age, active week.  Dates are told apart by calendar quarter, folded by decade for one-digit years.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import erf, sqrt

import numpy as np

from ..reference.types import Quantity
from .categories import Category, joint_seen
from .convolve import later_backward, window_backward
from .lags import EARLY
from .observe import assembly_mark
from .plan import Lags
from .setting import Setting
from .time import Array, IntArray

_erf = np.frompyfunc(erf, 1, 1)

DECADE = 40
FAR = 1600  # weeks before the earliest active week that are still told apart, quarter by quarter


@dataclass(frozen=True, eq=False)
class Look:
    """P(outcome and original) and P(outcome and not), each (n, M or 1, U or 1, active or 1)."""

    original: Array
    other: Array


@dataclass(frozen=True, eq=False)
class PartPrior:
    """P(original), P(later), P(period), P(married) of a part | m, B, u; each (M or 1, U or 1,
    active or 1).
    """

    original: Array
    later: Array
    period: Array
    married: Array
    elsewhere: tuple[float, float, float] = (1.0, 0.0, 0.0)
    """P(original, later, period) on the other amp, if the assembly is another's."""


def quarter_edges(setting: Setting, weeks: IntArray) -> tuple[IntArray, IntArray]:
    """Quarter number and first week of every quarter that is told apart; the last edge is the
    grid's end.
    """
    quarter = setting.grid.months // 3
    lowest = max(int(weeks[0]) - FAR, 0)
    starts = np.flatnonzero(np.diff(quarter, prepend=-1))
    starts = starts[starts >= lowest]
    starts = np.unique(np.concatenate(([0], starts)))
    return quarter[starts], np.append(starts, setting.grid.size)


def folded(table: Array, quarters: IntArray, fold: bool) -> Array:
    """Outcome axis merged by quarter of the decade where a year has one digit only."""
    if not fold:
        return table
    out = np.zeros((DECADE, *table.shape[1:]))
    for quarter, row in zip((quarters % DECADE).tolist(), table, strict=True):
        out[quarter] += row
    return out


def code_look(
    setting: Setting,
    part_class: str,
    prior: PartPrior,
    weeks: IntArray,
    *,
    fold: bool,
    joins: float,
    existing: Array | None,
    donor: Array,
) -> Look:
    """A date code on a dated part. ``joins``: chance that an original shares a delivery already
    dated,
    whose quarters are ``existing``; ``donor``: p(B') of the other amp, if the assembly is
    married."""
    lags = setting.lags(part_class)
    quarters, edges = quarter_edges(setting, weeks)
    fresh = folded(_original_quarters(lags, weeks, edges), quarters, fold)
    if existing is not None and joins > 0:
        known = folded(existing[:, None, None, None], quarters, fold)
        fresh = (1.0 - joins) * fresh + joins * known
    later = folded(_later_quarters(lags, weeks, edges, setting.grid.size), quarters, fold)
    period = folded(
        _period_quarters(weeks, edges, lags.period_half, setting.grid.size), quarters, fold
    )
    if float(np.max(prior.married)) > 0.0:
        married = folded(
            _donor_quarters(lags, setting, donor, edges, prior.elsewhere)[:, None, None, None],
            quarters,
            fold,
        )
    else:
        married = np.zeros((1, 1, 1, 1))
    return Look(
        prior.original[None] * fresh,
        prior.later[None] * later + prior.period[None] * period + prior.married[None] * married,
    )


def _with_offsets(pmf: Array, spread: Sequence[float]) -> Array:
    """Lag of the part's own week: the delivery's lag plus e; shape (U, n + 4)."""
    out = np.zeros((pmf.shape[0], pmf.shape[1] + len(spread) - 1))
    for e, p in enumerate(spread):
        out[:, e : e + pmf.shape[1]] += p * pmf
    return out


def _original_quarters(lags: Lags, weeks: IntArray, edges: IntArray) -> Array:
    """P(part's week in a quarter | original, B, u); shape (quarters, 1, U, active)."""
    cumulative = np.cumsum(_with_offsets(lags.original.table, lags.spread), axis=1)
    # P(lag <= B - w): index B - w + EARLY; below 0 nothing, beyond the table all of it
    index = weeks[None, :] - edges[:, None] + EARLY
    values = np.where(
        index[None] >= 0, cumulative[:, np.clip(index, 0, cumulative.shape[1] - 1)], 0.0
    )
    return np.maximum(values[:, :-1] - values[:, 1:], 0.0).transpose(1, 0, 2)[:, None]


def _donor_quarters(
    lags: Lags,
    setting: Setting,
    donor: Array,
    edges: IntArray,
    elsewhere: tuple[float, float, float],
) -> Array:
    """P(part's week in a quarter | on another amp, built by ``donor``); shape (quarters,)."""
    original, later, period = elsewhere
    weight = setting.nodes[1][:, None] * donor[None, :]
    shipped = original * lags.original.backward(weight, np.arange(donor.size))
    shipped += later * later_backward(donor, lags.service)
    made = period * window_backward(donor, lags.period_half)
    for e, p in enumerate(lags.spread):
        made[: made.size - e] += p * shipped[e:]
    return np.add.reduceat(made, edges[:-1])


def _later_quarters(lags: Lags, weeks: IntArray, edges: IntArray, size: int) -> Array:
    """P(part's week in a quarter | later, B); shape (quarters, 1, 1, active)."""
    cumulative = np.cumsum(_with_offsets(lags.service.table, lags.spread)[0])[EARLY:]
    twice = np.concatenate(([0.0], np.cumsum(cumulative)))  # sum of P(lag <= j), j < k

    def up_to(x: IntArray) -> Array:
        return twice[np.clip(x + 1, 0, twice.size - 1)]

    last = size - 1
    first = np.minimum(weeks, last - 1)
    end = up_to(last - edges)[:, None] - up_to(first[None, :] - edges[:, None])
    mass = (end[:-1] - end[1:]) / (last - first)[None, :]
    return np.maximum(mass, 0.0)[:, None, None, :]


def _period_quarters(weeks: IntArray, edges: IntArray, half: int, size: int) -> Array:
    """P(part's week in a quarter | period, B); shape (quarters, 1, 1, active)."""
    lo, hi = np.maximum(weeks - half, 0), np.minimum(weeks + half, size - 1) + 1
    inside = np.clip(edges[:, None], lo[None], hi[None])
    return ((inside[1:] - inside[:-1]) / (hi - lo)[None])[:, None, None, :]


def feature_look(
    category: Category,
    seen: Sequence[tuple[Category, str]],
    prior: PartPrior,
    weeks: IntArray,
    donor: Array,
) -> Look:
    """A feature's value. ``seen``: features of its group already seen on other parts here."""
    original: list[Array] = []
    for value in category.values:
        p = joint_seen([(c.on(weeks), v) for c, v in seen] + [(category.on(weeks), value)])
        original.append(np.broadcast_to(p, (category.original.shape[1], weeks.size)))
    table = np.stack(original)
    table = table / np.maximum(table.sum(axis=0, keepdims=True), 1e-300)
    replaced = np.stack([category.replaced(v) for v in category.values])
    other_amp = category.original @ donor
    return _value_look(
        table[:, :, None, :], replaced[:, :, None, :], other_amp[:, :, None, None], prior
    )


def quantity_look(
    quantity: Quantity, category: Category, prior: PartPrior, weeks: IntArray, donor: Array
) -> Look:
    """A measurement, as if it told the catalogued alternatives apart by the nearest mean."""
    names = category.values
    mean = {r.value: r.mean for r in quantity.alternatives}
    sd = {r.value: r.sd for r in quantity.alternatives}
    order = sorted(names, key=lambda v: mean[v])
    cut = [(mean[a] + mean[b]) / 2 for a, b in pairwise(order)]
    edges = np.array([-np.inf, *cut, np.inf])
    means, sds = np.array([mean[v] for v in names]), np.array([sd[v] for v in names])
    hit = np.diff(_normal(edges[:, None], means, sds), axis=0)
    original = np.tensordot(hit, category.original[:, :, weeks], axes=1)
    replaced = np.tensordot(hit, np.stack([category.replaced(v) for v in names]), axes=1)
    other_amp = hit @ (category.original @ donor)
    return _value_look(
        original[:, :, None, :], replaced[:, :, None, :], other_amp[:, :, None, None], prior
    )


def _normal(x: Array, mean: Array | float, sd: Array | float) -> Array:
    """Cumulative normal distribution, element by element."""
    z = (np.asarray(x) - mean) / (np.maximum(sd, 1e-12) * sqrt(2.0))
    return 0.5 * (1.0 + np.asarray(_erf(z), dtype=np.float64))


def _value_look(original: Array, replaced: Array, other_amp: Array, prior: PartPrior) -> Look:
    o, later, period = prior.elsewhere
    other = o * other_amp + (later + period) * replaced
    return Look(
        prior.original[None] * original,
        (prior.later + prior.period)[None] * replaced + prior.married[None] * other,
    )


def word_look(rows: Sequence[tuple[float, float, float]], prior: PartPrior) -> Look:
    """A condition word: P(word | original, later, period) a row; what is left over is 'none of
    them'.
    """
    table = np.array(rows)
    table = np.vstack([table, np.maximum(1.0 - table.sum(axis=0), 0.0)])[:, :, None, None, None]
    return Look(
        prior.original[None] * table[:, 0],
        (prior.later + prior.married)[None] * table[:, 1] + prior.period[None] * table[:, 2],
    )


def assembly_look(
    setting: Setting, kind: str, scheme: tuple[int, int], prior: PartPrior, weeks: IntArray
) -> Look:
    """A mark of final assembly (chart letters by month, year stamps by year, hand dates by
    quarter).
    """
    misread, before, after = assembly_mark(kind, setting.assume)
    grid = setting.grid
    key = {"year-stamp": grid.years % 100, "chart-letters": grid.months}.get(kind, grid.months // 3)
    lo, hi = scheme
    named, code = np.unique(key[lo:hi], return_inverse=True)
    flat = np.bincount(code, minlength=named.size) / (hi - lo)
    near = np.zeros((named.size, weeks.size))
    for d in range(-before, after + 1):
        at = weeks + d
        inside = (at >= lo) & (at < hi)
        np.add.at(near, (code[at[inside] - lo], np.flatnonzero(inside)), 1.0 / (before + after + 1))
    missed = 1.0 - near.sum(axis=0)
    original = (1.0 - misread) * (near + missed * flat[:, None]) + misread * flat[:, None]
    keep = original.max(axis=1) > 1.5 * misread * flat
    original = np.vstack([original[keep], original[~keep].sum(axis=0)])
    flat = np.append(flat[keep], flat[~keep].sum())
    return Look(
        prior.original[None] * original[:, None, None, :],
        (prior.later + prior.period + prior.married)[None] * flat[:, None, None, None],
    )


def serial_look(setting: Setting, prior: PartPrior, weeks: IntArray) -> Look | None:
    """A serial, told apart by the quarter that it points to; None where no range is known."""
    spreads = [r.spread_weeks for r in setting.reference.tables.serials if r.spread_weeks > 0]
    if not spreads:
        return None
    spread = float(np.median(spreads))
    edges = quarter_edges(setting, weeks)[1].astype(np.float64)
    cumulative = _normal(edges[:, None], weeks[None, :].astype(np.float64), spread)
    original = np.diff(cumulative, axis=0)
    leak = setting.assume["serial.leak"]
    flat = np.diff(edges) / setting.grid.size
    original = (1 - leak) * original / original.sum(axis=0) + leak * flat[:, None]
    return Look(
        prior.original[None] * original[:, None, None, :],
        (prior.later + prior.period + prior.married)[None] * flat[:, None, None, None],
    )
