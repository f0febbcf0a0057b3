"""What is fixed while one dossier is weighed: grid, rivals, assumptions, priors, tables of lags."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..dossier.types import Dossier
from ..reference.types import Feature, Model, Reference
from .categories import Category, feature_category, quantity_category
from .convolve import LagTable
from .lags import Lag, stock_age_nodes
from .plan import Lags
from .sources import RivalSources, sources_for, supplies_of
from .texts import scheme_in_use
from .time import Array, Grid
from .weeks import week_of
from .workspace import Same, Workspace


@dataclass(frozen=True, eq=False)
class Setting:
    """Everything but the marks. ``models``: the rivals, (None,) where no pack names any."""

    grid: Grid
    reference: Reference
    assume: Mapping[str, float]
    models: tuple[Model | None, ...]
    dossier: Dossier
    workspace: Workspace

    @classmethod
    def of(
        cls,
        dossier: Dossier,
        reference: Reference,
        assume: Mapping[str, float],
        models: Sequence[str] | None,
        workspace: Workspace,
    ) -> Setting:
        rivals = [m for m in reference.models if models is None or m.id in models]
        return cls(
            Grid.until(dossier.as_of),
            reference,
            assume,
            tuple(rivals) or (None,),
            dossier,
            workspace,
        )

    @property
    def names(self) -> tuple[str | None, ...]:
        return tuple(None if m is None else m.id for m in self.models)

    @cached_property
    def nodes(self) -> tuple[Array, Array]:
        return stock_age_nodes(self.assume["stock_age.sigma"])

    @cached_property
    def odds(self) -> Array:
        """Prior odds of the rivals, normalised; shape (M,)."""
        odds = np.array([1.0 if m is None else m.odds for m in self.models])
        return odds / odds.sum()

    @cached_property
    def era(self) -> Array:
        return self.grid.era(self.reference.era)

    @cached_property
    def made_elsewhen(self) -> bool:
        """Whether no rival was in production in the years known to be right."""
        if self.dossier.made is None or not any(self.models):
            return False
        made = self.grid.indicator(*self.dossier.made)
        runs = [run for model in self.models if model is not None for run in model.runs]
        inside = [(self.grid.indicator(run.first, run.last) * made).any() for run in runs]
        return bool(made.any()) and not any(inside)

    @cached_property
    def runs(self) -> Array:
        """R_m(B): production of each rival, shape (M, size)."""
        rows: list[Array] = []
        made = None
        if self.dossier.made is not None:
            made = self.grid.indicator(*self.dossier.made)
        for model in self.models:
            r = self.era.copy() if model is None else np.zeros(self.grid.size)
            for run in () if model is None else model.runs:
                window = self.grid.soft_window(run, model.softness_weeks if model else 0.0)
                # a run that starts after as_of has no say: its edge would be all there is
                if window.sum() > 0 and (run.first is None or week_of(run.first) < self.grid.size):
                    r += run.weight * window / window.sum()
            if r.sum() <= 0:
                r = self.era.copy()
            if made is not None and made.any():
                r = r * made if (r * made).sum() > 0 else made.copy()
            rows.append(r)
        return np.stack(rows)

    @cached_property
    def prior(self) -> Array:
        """prior_m(B), shape (M, size)."""
        leak = self.assume["prior.leak"]
        share = self.runs / self.runs.sum(axis=1, keepdims=True)
        return (1.0 - leak) * share + leak / self.grid.size

    @cached_property
    def in_use(self) -> Array:
        return scheme_in_use(self.grid, self.assume)

    def lags(self, part_class: str) -> Lags:
        """The lag tables of a class ('other' for classes that have none of their own)."""
        name = part_class if f"lag.{part_class}.median_weeks" in self.assume else "other"
        lag, service = Lag.of_class(name, self.assume), Lag.of_service(self.assume)
        size, sigma = self.grid.size, self.assume["stock_age.sigma"]
        key = (lag, size, sigma)
        original = self.workspace.get(
            ("lag", key), lambda: LagTable(lag.table(size, self.nodes[0]), key)
        )
        key_s = (service, size)
        fitted = self.workspace.get(
            ("lag", key_s), lambda: LagTable(service.table(size, np.zeros(1)), key_s)
        )
        return Lags(
            original,
            fitted,
            int(self.assume["period.half_width_weeks"]),
            self.assume["delivery.concentration"],
            self.spread,
        )

    def sources(self, part_class: str) -> RivalSources:
        """Where a class's parts come from, for every rival."""

        def make() -> RivalSources:
            everyone = tuple(s for s in self.reference.supplies if s.part_class == part_class)
            rows = [supplies_of(part_class, name, self.reference) for name in self.names]
            made = {
                r: sources_for(r, everyone, self.grid, self.assume) for r in dict.fromkeys(rows)
            }
            return RivalSources(tuple(made[r] for r in (rows[:1] if len(made) == 1 else rows)))

        key = (
            "sources",
            part_class,
            self._identity,
            self.names,
            self._source_shares,
            self.grid.size,
        )
        return self.workspace.get(key, make)

    @cached_property
    def _source_shares(self) -> tuple[float, ...]:
        return tuple(v for k, v in sorted(self.assume.items()) if k.startswith("source."))

    @cached_property
    def mark_key(self) -> tuple[object, ...]:
        """What P(mark | origin, week) is made from, but for the mark."""
        apart = ("lag.", "replaced.", "married.", "stock_age.", "service.", "delivery.")
        shares = tuple(v for k, v in sorted(self.assume.items()) if not k.startswith(apart))
        return (self._identity, self.names, self.grid.size, self.dossier.made, shares)

    @cached_property
    def code_shares(self) -> tuple[float, ...]:
        """The numbers that turn a text into weeks."""
        named = ("week_code.", "scheme.", "terminus.")
        return tuple(v for k, v in sorted(self.assume.items()) if k.startswith(named))

    @cached_property
    def spread(self) -> tuple[float, ...]:
        """P(e): a part is made e weeks before its delivery is dated."""
        return tuple(self.assume[f"delivery.spread.{e}"] for e in range(5))

    def feature(self, name: str) -> Category:
        return self._categories(("feature", name))

    def quantity(self, name: str) -> Category:
        return self._categories(("quantity", name))

    def _categories(self, what: tuple[str, str]) -> Category:
        leak = self.assume["feature.leak"]
        rows = self.reference.features if what[0] == "feature" else self.reference.quantities
        row = rows[what[1]]
        key = (
            "category",
            Same(row),
            self.names,
            self._identity,
            self.grid.size,
            leak,
            self.dossier.made,
        )
        if isinstance(row, Feature):
            return self.workspace.get(
                key, lambda: feature_category(row, leak, self.names, self.runs, self.grid)
            )
        return self.workspace.get(
            key, lambda: quantity_category(row, leak, self.names, self.runs, self.grid)
        )

    @cached_property
    def _identity(self) -> Same:
        return Same(self.reference)

    def origin_prior(self, part_class: str) -> tuple[float, float, float]:
        """P(original), P(later), P(period) of a part of a class before anything is seen."""
        rho = self.assume.get(f"replaced.{part_class}.probability")
        if rho is None:
            rho = self.assume["replaced.other.probability"]
        period = self.assume["replaced.period_share"]
        return 1.0 - rho, rho * (1.0 - period), rho * period

    def married(self, assembly: str) -> float:
        if assembly == "chassis":
            return 0.0
        return self.assume.get(f"married.{assembly}.probability", 0.05)
