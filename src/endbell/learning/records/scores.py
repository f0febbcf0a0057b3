"""One dossier's say on every value: the derivative of its log evidence, by Fisher's identity."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...chronology.expected import EARLY, Expected, Look
from ...chronology.lags import Lag
from ...chronology.setting import Setting
from ...chronology.time import IntArray
from .slopes import (
    FeatureSlopes,
    SupplySlopes,
    feature_slopes,
    lag_slopes,
    replaced_slopes,
    supply_slopes,
)
from .subjects import LAGS, Subjects, digits_name
from .windows import Edge

Array = NDArray[np.float64]
KEPT = 6  # settings whose slopes are kept: dossiers come in order of their day
MOST_REPLACED = 2000
NEAR = 52  # weeks round an edge in which a record says something of it


@dataclass(frozen=True, slots=True)
class Score:
    """``slope``: d ln evidence by every parameter; ``records``: how many records speak of it.

    ``curve``: - Z''/Z by each of the numbers, of the evidence Z: what the slope's square lacks as
    information.  Only for numbers of a prior and of a lag; shares have it in their slopes' sum.
    """

    slope: Array
    records: Array
    curve: Array


class Scorer:
    """Scores of dossiers under one set of values.

    ``subjects``: with the packs' values; ``reference`` and ``assume`` in the dossiers' settings are
    those in force.
    """

    def __init__(self, subjects: Subjects) -> None:
        self.subjects = subjects
        self.place = subjects.space.place()
        self._kept: OrderedDict[tuple[object, ...], _Slopes] = OrderedDict()
        self._edges: dict[str, Sequence[Edge]] = {
            **{f"supply.{s.part_class}": s.edges for s in subjects.supplies},
            **{f"feature.{f.group}": f.edges for f in subjects.features},
        }

    def score(self, found: Expected, setting: Setting) -> Score:
        """The score of one dossier, from its expected numbers."""
        slope = np.zeros(self.subjects.space.size)
        records = np.zeros(self.subjects.space.size)
        curve = np.zeros(self.subjects.space.size)
        slopes = self._slopes(setting)
        self._numbers(found, setting, slopes, Score(slope, records, curve))
        self._supply(found, slopes, slope, records)
        self._features(found, setting, slopes, slope, records)
        self._digits(found, setting, slope, records)
        return Score(slope, records, curve)

    def _slopes(self, setting: Setting) -> _Slopes:
        key = (id(setting.reference), id(setting.assume), setting.grid.size)
        if key not in self._kept:
            self._kept[key] = _Slopes(self.subjects, setting)
            if len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return self._kept[key]

    def _numbers(self, found: Expected, setting: Setting, slopes: _Slopes, into: Score) -> None:
        slope, records, curve = into.slope, into.records, into.curve
        for name, numbers in found.lags.items():
            by = slopes.lag(name)[:, :, : numbers.shape[1]].reshape(8, -1) @ numbers.ravel()
            for k, (what, _) in enumerate(LAGS):
                at = self.place.get(f"lag.{name}.{what}")
                if at is None:
                    continue
                slope[at] += by[k]
                curve[at] += by[4 + k]
                records[at] += float(numbers.sum())
        pi = setting.assume["replaced.period_share"]
        at_pi = self.place.get("replaced.period_share")
        for part_class, fate in found.fates.items():
            gone = fate.later + fate.period
            at = self.place.get(f"replaced.{part_class}.probability")
            if at is not None:
                rho = setting.assume[f"replaced.{part_class}.probability"]
                slope[at] += gone - rho * fate.asked
                curve[at] += fate.asked * rho * (1.0 - rho) - fate.square
                records[at] += fate.asked
            if at_pi is not None:
                slope[at_pi] += fate.period - pi * gone
                curve[at_pi] -= (1.0 - 2.0 * pi) * (fate.period - pi * gone)
                records[at_pi] += gone
        for assembly, p in found.married.items():
            at = self.place.get(f"married.{assembly}.probability")
            if at is not None:
                mu = setting.married(assembly)
                slope[at] += p - mu
                curve[at] -= (1.0 - 2.0 * mu) * (p - mu)
                records[at] += 1.0

    def _supply(self, found: Expected, slopes: _Slopes, slope: Array, records: Array) -> None:
        for b in found.bought:
            table = slopes.supply(b.part_class)
            if table is None or not table.columns:
                continue
            columns = list(table.columns)
            for number, n in b.original.items():
                by = table.original.get(number)
                if by is not None:
                    cut = by.take(b.weeks, axis=2)[b.models]
                    slope[columns] += np.einsum("mkw,mw->k", cut, n)
            for number, n in b.later.items():
                if number in table.later:
                    slope[columns] += n * table.later[number]
            total = sum((n.sum(axis=0) for n in b.original.values()), np.zeros(b.weeks.size))
            self._near(f"supply.{b.part_class}", b.weeks, total, records)
            edges = len(self._edges[f"supply.{b.part_class}"])
            records[columns[edges:]] += float(total.sum())

    def _near(self, group: str, weeks: IntArray, number: Array, records: Array) -> None:
        """Count the records near each edge of a group."""
        for edge in self._edges[group]:
            near = np.abs(weeks - edge.week) <= NEAR
            if near.any():
                records[self.place[edge.name]] += float(number[near].sum())

    def _features(
        self, found: Expected, setting: Setting, slopes: _Slopes, slope: Array, records: Array
    ) -> None:
        for look in found.looks:
            table = slopes.feature(look.values[0][0])
            if table is None or not table[1].columns:
                continue
            group, by = table
            if look.original:
                _add_original(look, by, slope)
                self._near(f"feature.{group}", look.weeks, look.number.sum(axis=0), records)
            else:
                ((name, value),) = look.values
                if value in by.values[name]:
                    v = by.values[name].index(value)
                    late = slopes.replaced(name, setting)[:, v][:, look.models]
                    slope[list(by.columns)] += late @ look.number[:, 0]

    def _digits(self, found: Expected, setting: Setting, slope: Array, records: Array) -> None:
        for legibility, numbers in found.digits.items():
            table = setting.reference.tables.digits[legibility]
            for true, row in enumerate(table.rows):
                at = self.place.get(digits_name(legibility, true))
                if at is None or not numbers[true].any():
                    continue
                n = float(numbers[true].sum())
                full = numbers[true] - n * np.asarray(row) / sum(row)
                base = slopes_base(self.subjects, legibility, true)
                free = np.delete(full, base)
                slope[at : at + free.size] += free
                records[at : at + free.size] += n


def slopes_base(subjects: Subjects, legibility: str, true: int) -> int:
    """The member of a digit's row that has no parameter."""
    name = digits_name(legibility, true)
    return next(s.base for s in subjects.space.simplices if s.name == name)


def _add_original(look: Look, by: FeatureSlopes, slope: Array) -> None:
    """d ln P(values | original) times the number of such looks."""
    indices: list[tuple[str, int]] = []
    for name, value in look.values:
        if value not in by.values[name]:
            return  # only its leak speaks, or that of all of them
        indices.append((name, by.values[name].index(value)))
    for k, column in enumerate(by.columns):
        lo, hi = _reach(by, indices, k)
        a, b = np.searchsorted(look.weeks, (lo, hi)).tolist()
        if a >= b:
            continue
        weeks, number = look.weeks[a:b], look.number[:, a:b]
        slope[column] += float((number * _log_slope(by, indices, k, look.models, weeks)).sum())


def _reach(by: FeatureSlopes, indices: Sequence[tuple[str, int]], k: int) -> tuple[int, int]:
    spans = [
        (move[0], move[0] + move[1].shape[2])
        for name, _ in indices
        if (move := by.moves[name][k]) is not None and move[1].shape[2]
    ]
    if not spans:
        return 0, 0
    return min(s[0] for s in spans), max(s[1] for s in spans)


def _log_slope(
    by: FeatureSlopes,
    indices: Sequence[tuple[str, int]],
    k: int,
    models: IntArray,
    weeks: IntArray,
) -> Array:
    if len(indices) == 1:
        ((name, v),) = indices
        move = by.moves[name][k]
        assert move is not None
        d = move[1][v][np.ix_(models, weeks - move[0])]
        return d / by.p[name][v][np.ix_(models, weeks)]
    cut = [
        (by.p[name].take(weeks, axis=2)[:, models], _move(by, name, k, models, weeks))
        for name, _ in indices
    ]
    apart = np.ones(cut[0][0].shape[1:])
    d_apart = np.zeros(apart.shape)
    lows, highs, d_lows, d_highs = [], [], [], []
    for (p, d), (_, v) in zip(cut, indices, strict=True):
        apart = apart * p[v]
        d_apart = d_apart + d[v] / p[v]
        lows.append(p[:v].sum(axis=0))
        highs.append(p[: v + 1].sum(axis=0))
        d_lows.append(d[:v].sum(axis=0))
        d_highs.append(d[: v + 1].sum(axis=0))
    low, high = np.array(lows), np.array(highs)
    i, j = low.argmax(axis=0), high.argmin(axis=0)
    length = np.take_along_axis(high, j[None], 0)[0] - np.take_along_axis(low, i[None], 0)[0]
    move = np.take_along_axis(np.array(d_highs), j[None], 0)[0]
    move = move - np.take_along_axis(np.array(d_lows), i[None], 0)[0]
    together = (1.0 - by.leak) * np.maximum(length, 0.0) + by.leak * apart
    d_together = (1.0 - by.leak) * np.where(length > 0, move, 0.0) + by.leak * apart * d_apart
    return d_together / together


def _move(by: FeatureSlopes, name: str, k: int, models: IntArray, weeks: IntArray) -> Array:
    """d P on some weeks, (n, models, weeks)."""
    p = by.p[name]
    out = np.zeros((p.shape[0], models.size, weeks.size))
    move = by.moves[name][k]
    if move is None:
        return out
    first, d = move
    inside = (weeks >= first) & (weeks < first + d.shape[2])
    out[:, :, inside] = d.take(weeks[inside] - first, axis=2)[:, models]
    return out


class _Slopes:
    """Everything of one setting, made when first asked for."""

    def __init__(self, subjects: Subjects, setting: Setting) -> None:
        self.subjects, self.setting = subjects, setting
        self._lags: dict[str, Array] = {}
        self._supply: dict[str, SupplySlopes | None] = {}
        self._feature: dict[str, tuple[str, FeatureSlopes] | None] = {}
        self._replaced: dict[tuple[str, object], Array] = {}

    def lag(self, name: str) -> Array:
        """First and second derivatives of a class's lag, (8, U, n)."""
        if name not in self._lags:
            setting = self.setting
            lag = Lag.of_class(name, setting.assume)
            table = setting.lags(name).original.table
            self._lags[name] = lag_slopes(lag, table, setting.nodes[0])
        return self._lags[name]

    def supply(self, part_class: str) -> SupplySlopes | None:
        if part_class not in self._supply:
            of = next((s for s in self.subjects.supplies if s.part_class == part_class), None)
            self._supply[part_class] = of and supply_slopes(of, self.subjects, self.setting)
        return self._supply[part_class]

    def replaced(self, name: str, setting: Setting) -> Array:
        """d ln P(v | replaced) by the edges of a feature's group, (edges, n, M); what looks right
        depends on the years known to be right.
        """
        key = (name, setting.made)
        if key not in self._replaced:
            found = self.feature(name)
            assert found is not None
            if len(self._replaced) > MOST_REPLACED:
                self._replaced.clear()
            self._replaced[key] = replaced_slopes(name, found[1], setting)
        return self._replaced[key]

    def feature(self, name: str) -> tuple[str, FeatureSlopes] | None:
        if name not in self._feature:
            group = next(
                (g for g in self.subjects.features if any(n == name for n, _ in g.rows)), None
            )
            found = None
            if group is not None:
                found = group.group, feature_slopes(group, self.subjects, self.setting)
                self._feature.update({n: found for n, _ in group.rows})
            self._feature[name] = found
        return self._feature[name]


__all__ = ["EARLY", "Score", "Scorer"]
