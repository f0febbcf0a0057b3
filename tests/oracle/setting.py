"""Priors, suppliers and features: what the model says before any mark is read (sections 3, 5, 8).

A *world* is a plain dict, see ``world.py``.  A :class:`Setting` is the world under one rival model.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np

from . import lags, time
from .text import NUMBERS, SOURCE_LENGTHS

ORIGINS = ("original", "later", "period")
World = dict[str, Any]


class Setting:
    """One world under one rival model (None: the nameless rival)."""

    def __init__(self, world: World, model: dict[str, Any] | None) -> None:
        self.world = world
        self.model = model
        self.numbers: dict[str, float] = world["numbers"]
        self.total = time.week_of(world["as_of"]) + 1
        self.u, self.u_weight = lags.stock_age(self.numbers["stock_age.sigma"])
        self.runs = self._runs()
        self.run_share = self.runs / self.runs.sum()
        leak = self.numbers["prior.leak"]
        self.prior = (1 - leak) * self.run_share + leak / self.total
        era = time.knots_density(self.total, world["era"])
        self.donor = era / era.sum()

    def window(self, row: dict[str, Any], softness: float) -> np.ndarray:
        return time.soft_window(self.total, row["first"], row["last"], softness)

    def open_to(self, row: dict[str, Any]) -> bool:
        """Rows that name no model are open to all; the nameless rival has only those."""
        return not row["models"] or (self.model is not None and self.model["id"] in row["models"])

    def _runs(self) -> np.ndarray:
        if self.model is None:
            runs = time.knots_density(self.total, self.world["era"])
        else:
            runs = np.zeros(self.total)
            begun = [
                r
                for r in self.model["runs"]
                if r["first"] is None or time.week_of(r["first"]) < self.total
            ]
            if not begun:
                runs = time.knots_density(self.total, self.world["era"])
            for run in begun:
                w = self.window(run, self.model["softness"])
                runs += run["volume"] * w / w.sum()
        if self.world["made"] is not None:
            made = time.weeks_of_interval(self.total, *self.world["made"])
            runs = runs * made if (runs * made).sum() > 0 else made
        return runs

    # --- origins and assemblies -------------------------------------------------------------------

    def p_origin(self, part_class: str) -> dict[str, float]:
        rho = self.numbers[f"replaced.{part_class}.probability"]
        pi = self.numbers["replaced.period_share"]
        return {"original": 1 - rho, "later": rho * (1 - pi), "period": rho * pi}

    def p_married(self, assembly: str) -> float:
        return self.numbers.get(f"married.{assembly}.probability", 0.05)

    # --- sources ----------------------------------------------------------------------------------

    def length_share(self) -> dict[int, float]:
        share = {n: self.numbers[f"source.length_share.{n}"] for n in SOURCE_LENGTHS}
        return {n: s / sum(share.values()) for n, s in share.items()}

    def unlisted(self, listed: dict[str, np.ndarray]) -> dict[int, np.ndarray]:
        """P of *one* unlisted number of each length: what the listed ones leave, shared."""
        rest = 1 - sum(listed.values(), np.zeros(self.total))
        share = self.length_share()
        return {
            n: rest * share[n] / sum(1 for x in NUMBERS if len(x) == n and x not in listed)
            for n in share
        }

    def sources_original(self, part_class: str) -> dict[str, np.ndarray]:
        """P(source | original, class, model, B) of the listed numbers, each (T,) over B."""
        amount: dict[str, np.ndarray] = {}
        for row in self.world["supplies"]:
            if row["class"] == part_class and self.open_to(row):
                a = row["share"] * self.window(row, row["softness"])
                amount[row["number"]] = amount.get(row["number"], np.zeros(self.total)) + a
        whole = sum(amount.values(), np.zeros(self.total))
        keep = 1 - self.numbers["source.unlisted"]
        return {s: keep * a / np.maximum(1.0, whole) for s, a in amount.items()}

    def sources_replaced(self, part_class: str) -> dict[str, np.ndarray]:
        """P(source | replaced, class) of the listed numbers (constant over B).

        A repairer buys from anyone: all suppliers of the class, whatever the model.
        """
        share: dict[str, float] = {}
        for row in self.world["supplies"]:
            if row["class"] == part_class:
                share[row["number"]] = share.get(row["number"], 0.0) + row["share"]
        keep = 1 - self.numbers["source.replaced_unlisted"]
        return {s: np.full(self.total, keep * x / sum(share.values())) for s, x in share.items()}

    # --- lags -------------------------------------------------------------------------------------

    def lag(self, part_class: str, u: float) -> np.ndarray:
        """[B, D] -> P(L = B - D | u)."""
        x = {
            k: self.numbers[f"lag.{part_class}.{k}"]
            for k in (
                "median_weeks",
                "sigma",
                "old_stock_weight",
                "old_stock_mean_weeks",
                "early_weight",
            )
        }
        table = lags.lag_table(
            self.total,
            x["median_weeks"] * np.exp(u),
            x["sigma"],
            x["old_stock_weight"],
            x["old_stock_mean_weeks"],
            x["early_weight"],
        )
        return lags.by_difference(table, self.total)

    def service(self) -> np.ndarray:
        """[R, D] -> s(R - D)."""
        x = {
            k: self.numbers[f"service.{k}"]
            for k in ("median_weeks", "sigma", "old_stock_weight", "old_stock_mean_weeks")
        }
        table = lags.lag_table(
            self.total,
            x["median_weeks"],
            x["sigma"],
            x["old_stock_weight"],
            x["old_stock_mean_weeks"],
            0.0,
        )
        return lags.by_difference(table, self.total)

    # --- features ---------------------------------------------------------------------------------

    def values(
        self, rows: list[dict[str, Any]], softness: float, absent: bool
    ) -> dict[str, np.ndarray]:
        """P(v | original, m, B) of every listed value in order of first appearance, each (T,)."""
        names: list[str] = []
        for row in rows:
            if row["value"] not in names:
                names.append(row["value"])
        if absent and "absent" not in names:
            names.append("absent")
        n = len(names)
        c = {v: np.zeros(self.total) for v in names}
        for row in rows:
            if self.open_to(row):
                c[row["value"]] = c[row["value"]] + row["share"] * self.window(row, softness)
        whole = sum(c.values(), np.zeros(self.total))
        leak = self.numbers["feature.leak"]
        known = whole >= 1e-200
        return {
            v: np.where(known, (1 - leak) * cv / np.where(known, whole, 1.0) + leak / n, 1.0 / n)
            for v, cv in c.items()
        }

    def match(self, p: np.ndarray) -> float:
        """match_m(v): what someone would fit who wants the part to look right for this model."""
        return float((self.run_share * p).sum())


def rivals(world: World) -> list[tuple[float, dict[str, Any] | None]]:
    """(P(m), model): all models of the world, or the ones named, by their odds."""
    models = [
        m for m in world["models"] if world.get("rivals") is None or m["id"] in world["rivals"]
    ]
    if not models:
        return [(1.0, None)]
    total = sum(m["odds"] for m in models)
    return [(m["odds"] / total, m) for m in models]


def day(text: str) -> date:
    return date.fromisoformat(text)
