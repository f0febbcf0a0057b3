"""What a careful person would write in an afternoon: the same grid of weeks, every part by itself.

Left out beside docs/model.md: deliveries, stock age, married assemblies, features that were changed
together, misread characters.  Loops over the readings of every mark, arrays over the weeks.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from endbell.dossier import Dossier, Mark
from endbell.reference import Reference

Array = NDArray[np.float64]
MONDAY = date(1929, 12, 30)
EARLY = 8


def week(day: date) -> int:
    return (day - MONDAY).days // 7


@dataclass(frozen=True)
class Simple:
    """The simpler model of one dossier, ready to be summed by anyone.

    ``prior``: P(m) and P(B | m), (M,) and (M, T).  ``origins``: P(S) of every part, S in original,
    later, period.  ``said``: by mark number, its part and P(mark | m, B, S), (M or 1, T, 3).
    """

    odds: Array
    prior: Array
    origins: Mapping[str, Array]
    said: Mapping[int, tuple[str, Array]]


class Maker:
    """Turns marks into tables, one after the other."""

    def __init__(self, dossier: Dossier, reference: Reference) -> None:
        self.dossier, self.reference = dossier, reference
        self.size = week(dossier.as_of) + 1
        self.t = np.arange(self.size)
        self.number = {name: a.value for name, a in reference.assumptions.items()}
        self.classes = {p.id: p.part_class for p in dossier.parts}
        self.lags: dict[str, tuple[Array, Array]] = {}
        self.service = np.cumsum(self._lag("service.", early=False)[EARLY:])
        self.after = np.maximum(self.size - 1 - self.t, 1)

    # -- priors

    def prior(self) -> tuple[Array, Array]:
        knots = self.reference.era
        at = [week(date(k.year, 1, 1)) for k in knots]
        era = np.interp(self.t, at, [k.weight for k in knots])
        leak = self.number["prior.leak"]
        rows: list[Array] = []
        for model in self.reference.models:
            made = np.zeros(self.size)
            for run in model.runs:
                window = self._window(run.first, run.last, model.softness_weeks)
                made += run.weight * window / window.sum()
            rows.append(made)
        odds = np.array([m.odds for m in self.reference.models]) if rows else np.ones(1)
        rows = [(1 - leak) * r / r.sum() + leak / self.size for r in rows or [era]]
        return odds / odds.sum(), np.stack(rows)

    def origin(self, part: str) -> Array:
        rho = self.number.get(
            f"replaced.{self.classes[part]}.probability", self.number["replaced.other.probability"]
        )
        period = self.number["replaced.period_share"]
        return np.array([1 - rho, rho * (1 - period), rho * period])

    # -- marks

    def table(self, mark: Mark) -> Array:
        if mark.kind in ("source-date-code", "date-code"):
            return self._coded(mark)
        if mark.kind == "feature":
            return self._feature(mark)
        if mark.kind == "condition":
            row = self.reference.conditions[mark.text]
            said = np.array([row.if_original, row.if_later, row.if_period])
            return np.ones((1, self.size, 1)) * said
        if mark.kind == "document":
            leak, other = self.number["document.leak"], self.number["document.other_amp"]
            last = week(date.fromisoformat(mark.date or ""))
            existed = np.where(self.t <= last, 1.0, leak) * (1 - other) + other
            return self._whatever_origin(existed)
        return self._assembled(mark)

    def _coded(self, mark: Mark) -> Array:
        source, _, code = mark.text.rpartition("-")
        digits, number = code[:-2], int(code[-2:])
        out = np.zeros((1, self.size, 3))
        base = 10 ** len(digits)
        lag, _ = self._lags_of(self.classes[mark.part])
        spread = ("week_code.before", "week_code.same", "week_code.after")
        for year in range(1930, self.dossier.as_of.year + 1):
            if year % base != int(digits):
                continue
            try:
                coded = week(date.fromisocalendar(year, number, 1))
            except ValueError:
                continue
            for step, name in zip((-1, 0, 1), spread, strict=True):
                made = coded - step
                if not 0 <= made < self.size:
                    continue
                p = self.number[name]
                if source and year < self.number["scheme.first_year"]:
                    p *= self.number["scheme.before_weight"]
                first = max(made - EARLY, 0)
                reach = lag[first - made + EARLY : self.size - made + EARLY]
                out[0, first:, 0] += p * reach
                out[0, :, 1] += p * self._later(made)
                low, high = max(made - 156, 0), min(made + 156, self.size - 1)
                near = slice(low, high + 1)
                width = np.minimum(self.t[near] + 156, self.size - 1) - np.maximum(
                    self.t[near] - 156, 0
                )
                out[0, near, 2] += p / (width + 1)
        if source:
            out = out * self._source(source, self.classes[mark.part])
        return out

    def _later(self, made: int) -> Array:
        """mean over service weeks R in (B, end] of P(service lag = R - made)."""
        total = self.service[self.size - 1 - made]
        before = np.zeros(self.size)
        before[made:] = self.service[: self.size - made]
        out = (total - before) / self.after
        out[-1] = self.service[self.size - 1 - made] - (
            self.service[self.size - 2 - made] if made < self.size - 1 else 0.0
        )
        return out

    def _source(self, number: str, part_class: str) -> Array:
        rows = [s for s in self.reference.supplies if s.part_class == part_class]
        models = [m.id for m in self.reference.models] or [""]
        unlisted, other = self.number["source.unlisted"], self.number["source.replaced_unlisted"]
        share = self.number["source.length_share.3"]
        out = np.full((len(models), self.size, 3), share / 10 ** len(number))
        for m, model in enumerate(models):
            mine, everyone = np.zeros(self.size), np.zeros(self.size)
            shares = named = 0.0
            for row in rows:
                shares += row.window.weight
                named += row.window.weight * (row.number == number)
                if row.models and model not in row.models:
                    continue
                w = self._window(row.window.first, row.window.last, row.softness_weeks)
                everyone += row.window.weight * w
                if row.number == number:
                    mine += row.window.weight * w
            if shares:
                out[m, :, 0] = (1 - unlisted) * mine / np.maximum(1, everyone) + unlisted / 1000
                out[m, :, 1:] = (1 - other) * named / shares + other / 1000
        return out

    def _feature(self, mark: Mark) -> Array:
        feature = self.reference.features[mark.feature or ""]
        values = dict.fromkeys([*(v.value for v in feature.values), "absent"])
        leak, cost = self.number["feature.leak"], feature.cost_to_fake
        out = np.empty((len(self.reference.models), self.size, 3))
        for m, model in enumerate(self.reference.models):
            mine, everyone = np.zeros(self.size), np.zeros(self.size)
            for row in feature.values:
                if row.models and model.id not in row.models:
                    continue
                w = self._window(row.window.first, row.window.last, feature.softness_weeks)
                everyone += row.window.weight * w
                if row.value == mark.value:
                    mine += row.window.weight * w
            known = everyone > 1e-200
            p = np.where(known, mine / np.where(known, everyone, 1.0), 1 / len(values))
            p = (1 - leak) * p + leak / len(values)
            match = float((self.runs[m] * p).sum())
            out[m, :, 0] = p
            out[m, :, 1:] = (1 - cost) * match + cost / len(values)
        return out

    @property
    def runs(self) -> Array:
        if not hasattr(self, "_runs"):
            self._runs = self.prior()[1]
        return self._runs

    def _assembled(self, mark: Mark) -> Array:
        """Chart letters, year stamps, hand dates: the weeks they can say, give or take a few."""
        said = np.zeros(self.size)
        for first, last in self._intervals(mark):
            said[max(week(first), 0) : week(last) + 1] = 1.0
        name = f"assembly_mark.{mark.kind}."
        before, after = (int(self.number[f"{name}{w}_weeks"]) for w in ("before", "after"))
        near = np.zeros(self.size)
        for step in range(-before, after + 1):
            shifted = np.zeros(self.size)
            low, high = max(-step, 0), self.size - max(step, 0)
            shifted[low:high] = said[low + step : high + step]
            near += shifted / (before + after + 1)
        misread = self.number[f"{name}misread"]
        mean = said.mean()
        out = np.full((1, self.size, 3), mean)
        out[0, :, 0] = (1 - misread) * near + misread * mean
        return out

    def _intervals(self, mark: Mark) -> list[tuple[date, date]]:
        if mark.kind == "chart-letters":
            chart = self.reference.tables.charts[0]
            year = chart.first_year + chart.years.index(mark.text[0])
            month = chart.months.index(mark.text[1]) + 1
            end = date(year + month // 12, month % 12 + 1, 1)
            return [(date(year, month, 1), date.fromordinal(end.toordinal() - 1))]
        if mark.kind == "year-stamp":
            years = range(1900 + int(mark.text[-2:]), self.dossier.as_of.year + 1, 100)
            return [(date(y, 1, 1), date(y, 12, 31)) for y in years]
        day, _, year = mark.text.split()
        found = date(int(year), 6, int(day))  # the one hand date here is of June
        return [(found, found)]

    # -- small things

    def _whatever_origin(self, by_week: Array) -> Array:
        return by_week[None, :, None] * np.ones(3)

    def _window(self, first: date | None, last: date | None, softness: float) -> Array:
        out = np.ones(self.size)
        if first is not None:
            out = out * _logistic((self.t - week(first) + 0.5) / softness)
        if last is not None:
            out = out * _logistic((week(last) - self.t + 0.5) / softness)
        return out

    def _lags_of(self, part_class: str) -> tuple[Array, Array]:
        if part_class not in self.lags:
            lag = self._lag(f"lag.{part_class}.", early=True)
            self.lags[part_class] = lag, np.cumsum(lag)
        return self.lags[part_class]

    def _lag(self, name: str, early: bool) -> Array:
        """P(lag = n), n from -EARLY on: log-normal, old stock, mis-stamped."""
        x = {k: self.number[name + k] for k in ("median_weeks", "sigma")}
        tau, theta = (self.number[name + f"old_stock_{k}"] for k in ("weight", "mean_weeks"))
        soon = self.number[name + "early_weight"] if early else 0.0
        out = np.empty(self.size + EARLY)
        out[:EARLY] = soon / EARLY
        below, r = 0.0, math.exp(-1 / theta)
        for n in range(self.size):
            z = (math.log(n + 1) - math.log(x["median_weeks"])) / x["sigma"]
            upto = 0.5 * (1 + math.erf(z / math.sqrt(2)))
            out[EARLY + n] = (1 - tau - soon) * (upto - below) + tau * (1 - r) * r**n
            below = upto
        return out


def _logistic(x: Array) -> Array:
    return 1 / (1 + np.exp(-np.clip(x, -700, 700)))


def simple_model(dossier: Dossier, reference: Reference) -> Simple:
    """Every mark's table, by plain loops."""
    maker = Maker(dossier, reference)
    odds, prior = maker.prior()
    said = {m.n: (m.part, maker.table(m)) for m in dossier.marks}
    return Simple(odds, prior, {p: maker.origin(p) for p, _ in said.values()}, said)


def joint(model: Simple, left_out: int | None = None) -> tuple[Array, dict[str, Array]]:
    """P(m, B), (M, T), and what each part says by origin, (M or 1, T, 3)."""
    parts = {p: origin[None, None, :] for p, origin in model.origins.items()}
    for n, (part, table) in model.said.items():
        if n != left_out:
            parts[part] = parts[part] * table
    out = model.odds[:, None] * model.prior
    for by_origin in parts.values():
        out = out * by_origin.sum(axis=2)
        out = out / out.max()
    return out / out.sum(), parts


def posterior(model: Simple) -> Array:
    """p(B), (T,)."""
    return joint(model)[0].sum(axis=0)


def everything(model: Simple) -> tuple[Array, dict[str, Array], dict[int, Array]]:
    """p(B), the origins of every part, and p(B) without each mark."""
    together, parts = joint(model)
    origins: dict[str, Array] = {}
    for part, by_origin in parts.items():
        share = by_origin / by_origin.sum(axis=2, keepdims=True)
        origins[part] = (together[:, :, None] * share).sum(axis=(0, 1))
    without = {n: joint(model, n)[0].sum(axis=0) for n in model.said}
    return together.sum(axis=0), origins, without
