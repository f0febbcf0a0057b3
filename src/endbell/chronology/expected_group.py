"""Expected numbers in one group of dated parts: how many originals, which lags, sources, digits.

The group's likelihood is a polynomial in the likelihoods f_b and g_b of its possible deliveries
(docs/model.md, section 6), each linear in its date and its source.  One pass forwards and one
backwards give the derivative by each of them, and so every expected number, without a draw.
Arrays have the axes (model, stock age or 1, week).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np

from .bounds import window_ends
from .convolve import later_at
from .counting import Counts
from .dates import Dates
from .evidence import mean_fitted
from .expected_kernel import LagKernel, fitted_backwards
from .expected_sources import SourceSplit, add_numbers
from .expected_sums import Derivative, differentiate
from .plan import Cells, Plan
from .time import Array, IntArray, on_weeks
from .workspace import Same


@dataclass(frozen=True, eq=False)
class Row:
    """One way the texts of a delivery agree: counts by kind, which text of each, its date, its
    source characters (None: it bears none).
    """

    block: int
    picked: tuple[tuple[int, int, int], ...]  # (kind, text, how many)
    date: Dates
    cells: tuple[Cells, ...] | None


@dataclass(frozen=True, eq=False)
class GroupCounts:
    """Expected numbers of a group, under the weight given for (model, stock age, week).

    ``original``, ``later``, ``period``: parts of every kind, (kinds, M, weeks).  ``lags``: original
    deliveries by stock age and lag from -EARLY on, (U, n).  ``bought``: original deliveries by
    source number (REST: unlisted), (M, weeks) each; ``bought_later``: later and period ones.
    ``made``: by kind and text, parts by week of making, (size,); ``source_digits``: their source
    digits by place, (length, 10).  ``original_square``: the square of the number of originals.
    """

    original: Array
    later: Array
    period: Array
    lags: Array
    bought: Mapping[str, Array]
    bought_later: Mapping[str, float]
    made: Mapping[tuple[int, int], Array]
    source_digits: Mapping[tuple[int, int], Array]
    original_square: float


def group_counts(
    plan: Plan, models: IntArray, weeks: IntArray, weight: Array, *, digits: bool
) -> GroupCounts:
    """The expected numbers; ``weight``: P(m, u, B and this account), (M, U, weeks).

    ``models``: which rivals these are; ``digits``: whether weeks of making and source digits are
    asked for.
    """
    return _Group(plan, models, weeks).counts(weight, digits=digits)


@dataclass(frozen=True, eq=False)
class TicketCounts:
    """A part put in at a known repair: as in :class:`GroupCounts`, by text."""

    bought_later: Mapping[str, float]
    made: Mapping[int, Array]
    source_digits: Mapping[int, Array]


def split_of(plan: Plan, cells: tuple[Cells, ...]) -> SourceSplit:
    """The source characters of a delivery by number; remembered."""
    key = ("split", Same(plan.sources), *cells)
    return plan.workspace.get(key, lambda: SourceSplit(plan.sources.rows, cells))


def ticket_counts(
    plan: Plan, weeks: IntArray, number: Array, repaired: slice, *, digits: bool
) -> TicketCounts:
    """``number``: expected parts by build week, (weeks,); ``repaired``: the weeks of the repair."""
    service, size = plan.lags.service, plan.size
    fitted: list[Array] = []
    for text in plan.kinds[0].texts:
        by_week = service.forward(text.shipped(plan.lags.spread), plan.workspace)[0]
        share = 1.0 if text.source is None else plan.weigh([text.source]).replaced
        fitted.append(share * mean_fitted(by_week, repaired)[weeks])
    total = sum(fitted, np.zeros(weeks.size))
    with np.errstate(divide="ignore", invalid="ignore"):
        q = np.where(total > 0, number / total, 0.0)
    bought: dict[str, float] = {}
    made: dict[int, Array] = {}
    source_digits: dict[int, Array] = {}
    for t, (text, one) in enumerate(zip(plan.kinds[0].texts, fitted, strict=True)):
        if text.source is not None:
            split = split_of(plan, (text.source,))
            late = split.scaled(float((q * one).sum()))
            add_numbers(bought, late)
            if digits:
                source_digits[t] = split.digits(late)
        if digits:
            built = np.zeros(size)
            share = 1.0 if text.source is None else plan.weigh([text.source]).replaced
            built[weeks] = q * share / max(repaired.stop - repaired.start, 1)
            before = np.zeros(size)  # by week of the repair: all builds before it
            before[1:] = np.cumsum(built)[:-1]
            inside = np.zeros(size)
            inside[repaired] = before[repaired]
            shipped = service.backward(inside[None], np.arange(size))
            each = np.append(shipped, np.zeros(len(plan.lags.spread)))
            on = sum(p * each[e : e + size] for e, p in enumerate(plan.lags.spread))
            made[t] = on * text.made.dense
    return TicketCounts(bought, made, source_digits)


class _Group:
    def __init__(self, plan: Plan, models: IntArray, weeks: IntArray) -> None:
        self.plan, self.models, self.weeks = plan, models, weeks
        self.size = tuple(k.count for k in plan.kinds)
        self.blocks: list[Counts] = []
        self.rows: list[Row] = []
        for part in plan.components:
            for local in part.blocks:
                counts = [0] * len(self.size)
                for i, n in zip(part.members, local, strict=True):
                    counts[i] = n
                self.blocks.append(tuple(counts))
                self.rows.extend(self._rows(len(self.blocks) - 1, tuple(counts)))
        self.of_block = np.array([r.block for r in self.rows], dtype=np.int64)

    def _rows(self, block: int, counts: Counts) -> Iterator[Row]:
        chosen = [(i, n) for i, n in enumerate(counts) if n]
        kinds, shipped = self.plan.kinds, self.plan.shipped
        for texts in product(*(range(len(kinds[i].texts)) for i, _ in chosen)):
            picked = tuple((i, t, n) for (i, n), t in zip(chosen, texts, strict=True))
            cells = tuple(
                source
                for i, t, n in picked
                if (source := kinds[i].texts[t].source) is not None
                for _ in range(n)
            )
            if len({len(c) for c in cells}) > 1:
                continue
            date: Dates | None = None
            for i, t, n in picked:
                h = shipped[i][t].power(n)
                date = h if date is None else date.times(h)
            if date is not None and date.possible:
                yield Row(block, picked, date, cells or None)

    # -- forwards ----------------------------------------------------------------------------------

    def counts(self, weight: Array, *, digits: bool) -> GroupCounts:
        m, u, w = weight.shape
        plan, weeks = self.plan, self.weeks
        self.sourced = [None if r.cells is None else plan.weigh(r.cells) for r in self.rows]
        self._find_days()
        kernel = LagKernel(plan, weeks, weight.sum(axis=(0, 1)), self.days, self.on)
        made = kernel.forwards()
        fitted = np.zeros((len(self.rows), w))
        for r, row in enumerate(self.rows):
            fitted[r] = later_at(row.date, plan.lags.service, plan.workspace, weeks)
        source = np.ones((len(self.rows), m, w))
        replaced = np.ones(len(self.rows))
        for r, s in enumerate(self.sourced):
            if s is not None:
                p = s.original[self.models] if s.original.shape[0] > 1 else s.original
                source[r] = on_weeks(p, weeks)
                replaced[r] = s.replaced
        n = len(self.blocks)
        f = np.zeros((n, m, u, w))
        g = np.zeros((n, w))
        for r, b in enumerate(self.of_block.tolist()):
            f[b] += source[r][:, None] * made[:, r][None]
            g[b] += fitted[r] * replaced[r]
        self.window = [plan.period(i, weeks)[:, None] for i in range(len(plan.kinds))]
        derivative = differentiate(
            self.size, self.blocks, (f, g), self._priors(), plan.lags.concentration, weight
        )
        return self._collect(derivative, kernel, made, fitted, source, replaced, digits=digits)

    def _priors(self) -> tuple[list[Array], list[Array], list[Array]]:
        def cut(a: Array) -> Array:
            mine = a[self.models] if a.shape[0] > 1 else a
            return on_weeks(mine, self.weeks)[:, None]

        kinds = self.plan.kinds
        period = [cut(k.period) * w for k, w in zip(kinds, self.window, strict=True)]
        return [cut(k.original) for k in kinds], [cut(k.later) for k in kinds], period

    def _find_days(self) -> None:
        """Every week a delivery can have left in, and the rows' dates on them, (rows, days)."""
        at = [r.date.at for r in self.rows]
        held = np.zeros(self.plan.size, dtype=bool)
        for days in at:
            held[days] = True
        self.days: IntArray = np.flatnonzero(held)
        self.on = np.zeros((len(self.rows), self.days.size))
        for row, r in zip(self.on, self.rows, strict=True):
            row[self.days.searchsorted(r.date.at)] = r.date.values

    # -- backwards ---------------------------------------------------------------------------------

    def _collect(
        self,
        d: Derivative,
        kernel: LagKernel,
        made: Array,
        fitted: Array,
        source: Array,
        replaced: Array,
        *,
        digits: bool,
    ) -> GroupCounts:
        of = self.of_block
        by_f, by_g = d.by_f[of], d.by_g[of]  # (rows, M, U, W), (rows, W)
        # (rows, U, weeks) -> (U, rows, weeks)
        to_made = (by_f * source[:, :, None]).sum(axis=1).transpose(1, 0, 2)
        lags = kernel.lags(to_made)
        to_source = (by_f * made.transpose(1, 0, 2)[:, None]).sum(axis=2)
        bought: dict[str, Array] = {}
        bought_later: dict[str, float] = {}
        source_digits: dict[tuple[int, int], Array] = {}
        fitted_rows = (by_g * fitted).sum(axis=1)
        for r, row in enumerate(self.rows):
            if row.cells is not None:
                split = split_of(self.plan, row.cells)
                found = split.originals(to_source[r], self.models, self.weeks)
                add_numbers(bought, found)
                late = split.replaced(float(fitted_rows[r]))
                add_numbers(bought_later, late)
                if digits:
                    every = {s: float(a.sum()) + late.get(s, 0.0) for s, a in found.items()}
                    every |= {s: v for s, v in late.items() if s not in every}
                    counted = split.digits(every)
                    for i, t, n in row.picked:
                        if self.plan.kinds[i].texts[t].source is not None:
                            old = source_digits.get((i, t), 0.0)
                            source_digits[(i, t)] = old + n * counted
        made_in: dict[tuple[int, int], Array] = {}
        if digits and self.rows:
            on_day = np.zeros(self.on.shape)
            on_day[:, kernel.early] = kernel.backwards(to_made) * kernel.on
            late = by_g * replaced[:, None]
            on_day += fitted_backwards(self.plan, self.weeks, self.days, late) * self.on
            made_in = self._made(on_day)
        self._period(d, bought_later, source_digits, made_in, digits=digits)
        return GroupCounts(
            d.original,
            d.later,
            d.period,
            lags,
            bought,
            bought_later,
            made_in,
            source_digits,
            d.original_square,
        )

    def _made(self, on_day: Array) -> dict[tuple[int, int], Array]:
        """Parts by week of making, from deliveries by week of dispatch."""
        out: dict[tuple[int, int], Array] = {}
        size, spread = self.plan.size, self.plan.lags.spread
        for i, kind in enumerate(self.plan.kinds):
            for t, text in enumerate(kind.texts):
                left = np.zeros(self.days.size)
                for r, row in enumerate(self.rows):
                    left += sum(n for k, x, n in row.picked if (k, x) == (i, t)) * on_day[r]
                shipped = self.plan.shipped[i][t]
                each = np.zeros(size + len(spread))
                values = np.ones(self.days.size)
                place = np.minimum(shipped.at.searchsorted(self.days), shipped.at.size - 1)
                there = shipped.at[place] == self.days
                values[there] = shipped.values[place[there]]
                each[self.days] = np.where(there, left / values, 0.0)
                made = sum(p * each[e : e + size] for e, p in enumerate(spread))
                out[(i, t)] = made * text.made.dense
        return out

    def _period(
        self,
        d: Derivative,
        bought_later: dict[str, float],
        source_digits: dict[tuple[int, int], Array],
        made_in: dict[tuple[int, int], Array],
        *,
        digits: bool,
    ) -> None:
        """Period replacements: where they were bought, when they were made."""
        half, size = self.plan.lags.period_half, self.plan.size
        low, high = window_ends(self.weeks, half, size)
        for i, kind in enumerate(self.plan.kinds):
            window = self.window[i][0, 0]
            per = np.where(window > 0, d.period[i].sum(axis=0) / np.maximum(window, 1e-300), 0.0)
            for t, text in enumerate(kind.texts):
                mean = text.made.between(low, high) / (high - low)
                share = 1.0
                if text.source is not None:
                    share = self.plan.weigh([text.source]).replaced
                    split = split_of(self.plan, (text.source,))
                    late = split.replaced(float((per * mean).sum()))
                    add_numbers(bought_later, late)
                    if digits:
                        old = source_digits.get((i, t), 0.0)
                        source_digits[(i, t)] = old + split.digits(late)
                if digits:
                    edges = np.zeros(size + 1)
                    each = per * share / (high - low)
                    np.add.at(edges, low, each)
                    np.subtract.at(edges, high, each)
                    on = np.maximum(np.cumsum(edges)[:size], 0.0) * text.made.dense
                    made_in[(i, t)] = made_in.get((i, t), 0.0) + on
