"""What is fixed while one dossier is weighed: grid, rivals, assumptions, priors, tables of lags."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np

from ..dossier.types import Dossier
from ..reference.types import Feature, Model, Reference
from . import blocks
from .categories import Category, feature_category, matched, quantity_category
from .convolve import LagTable
from .lags import Lag, stock_age_nodes
from .logs import log_of
from .plan import Lags
from .sources import RivalSources, sources_for, supplies_of
from .texts import scheme_in_use
from .time import Array, Grid
from .weeks import week_of
from .workspace import Same, Workspace


@dataclass(frozen=True, eq=False)
class Setting:
    """Everything but the marks. ``models``: the rivals, (None,) where no pack names any; ``made``:
    the years known to be right.
    """

    grid: Grid
    reference: Reference
    assume: Mapping[str, float]
    models: tuple[Model | None, ...]
    made: tuple[date | None, date | None] | None
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
        """That of a dossier; dossiers that differ in their marks alone share one."""
        grid = Grid.until(dossier.as_of)

        def make() -> Setting:
            rivals = [m for m in reference.models if models is None or m.id in models]
            chosen = tuple(rivals) or (None,)
            return cls(grid, reference, assume, chosen, dossier.made, workspace)

        wanted = None if models is None else tuple(models)
        key = ("setting", Same(reference), Same(assume), wanted, grid.size, dossier.made)
        return workspace.get(key, make)

    @property
    def nbytes(self) -> int:
        """With what is worked out once and kept."""
        return 8 * self.grid.size * (3 * len(self.models) + 8)

    @cached_property
    def identity(self) -> Same:
        """Stands for this setting in the keys of what is kept."""
        return Same(self)

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
        if self.made is None or not any(self.models):
            return False
        made = self.grid.indicator(*self.made)
        runs = [run for model in self.models if model is not None for run in model.runs]
        inside = [(self.grid.indicator(run.first, run.last) * made).any() for run in runs]
        return bool(made.any()) and not any(inside)

    @cached_property
    def runs(self) -> Array:
        """R_m(B): production of each rival, shape (M, size)."""
        rows: list[Array] = []
        made = None
        if self.made is not None:
            made = self.grid.indicator(*self.made)
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
    def log_prior_bound(self) -> Array:
        """ln of the highest prior over models by group of stock ages and block of weeks, (G,
        blocks).
        """
        weight = blocks.by_age(self.nodes[1][:, None])
        return log_of(weight) + log_of(blocks.highest(self.prior.max(axis=0)))

    @cached_property
    def in_use(self) -> Array:
        return scheme_in_use(self.grid, self.assume)

    def lags(self, part_class: str) -> Lags:
        """The lag tables of a class ('other' for classes that have none of their own)."""
        name = part_class if f"lag.{part_class}.median_weeks" in self.assume else "other"
        if name not in self._lags:
            self._lags[name] = self._made_lags(name)
        return self._lags[name]

    @cached_property
    def _lags(self) -> dict[str, Lags]:
        return {}

    def _made_lags(self, name: str) -> Lags:
        lag, service = Lag.of_class(name, self.assume), Lag.of_service(self.assume)
        size, sigma = self.grid.size, self.assume["stock_age.sigma"]
        key = (lag, size, sigma)
        original = self.workspace.get(
            ("lag", key), lambda: LagTable(lag.table(size, self.nodes[0]), self._short(key))
        )
        key_s = (service, size)
        fitted = self.workspace.get(
            ("lag", key_s), lambda: LagTable(service.table(size, np.zeros(1)), self._short(key_s))
        )
        return Lags(
            original,
            fitted,
            int(self.assume["period.half_width_weeks"]),
            self.assume["delivery.concentration"],
            self.spread,
        )

    def _short(self, key: tuple[object, ...]) -> Same:
        """Something to know a long key by: quick to compare, equal for equal keys."""
        return self.workspace.get(("key", key), lambda: Same(key))

    def sources(self, part_class: str) -> RivalSources:
        """Where a class's parts come from, for every rival."""

        def make() -> RivalSources:
            everyone = tuple(s for s in self.reference.supplies if s.part_class == part_class)
            rows = [supplies_of(part_class, name, self.reference) for name in self.names]
            made = {
                r: sources_for(r, everyone, self.grid, self.assume) for r in dict.fromkeys(rows)
            }
            return RivalSources(tuple(made[r] for r in (rows[:1] if len(made) == 1 else rows)))

        if part_class not in self._sources:
            self._sources[part_class] = self.workspace.get(
                ("sources", part_class, self._source_key), make
            )
        return self._sources[part_class]

    @cached_property
    def _sources(self) -> dict[str, RivalSources]:
        return {}

    @cached_property
    def _source_key(self) -> Same:
        shares = tuple(v for k, v in sorted(self.assume.items()) if k.startswith("source."))
        return self._short((self._identity, self.names, shares, self.grid.size))

    @cached_property
    def mark_key(self) -> Same:
        """What P(mark | origin, week) is made from, but for the mark."""
        apart = ("lag.", "replaced.", "married.", "stock_age.", "service.", "delivery.")
        shares = tuple(v for k, v in sorted(self.assume.items()) if not k.startswith(apart))
        return self._short((self._identity, self.names, self.grid.size, self.made, shares))

    @cached_property
    def code_key(self) -> Same:
        """What turns a text into weeks."""
        named = ("week_code.", "scheme.", "terminus.")
        shares = tuple(v for k, v in sorted(self.assume.items()) if k.startswith(named))
        return self._short((shares, self.grid.size))

    @cached_property
    def spread(self) -> tuple[float, ...]:
        """P(e): a part is made e weeks before its delivery is dated."""
        return tuple(self.assume[f"delivery.spread.{e}"] for e in range(5))

    def feature(self, name: str) -> Category:
        return self._categories(("feature", name))

    def quantity(self, name: str) -> Category:
        return self._categories(("quantity", name))

    def _categories(self, what: tuple[str, str]) -> Category:
        if what not in self._known_categories:
            # only what would be fitted to look right hangs on the years known to be right
            shared = self._shared_category(what)
            fitted = replace(shared, match=matched(shared.original, self.runs))
            self._known_categories[what] = fitted
        return self._known_categories[what]

    @cached_property
    def _known_categories(self) -> dict[tuple[str, str], Category]:
        return {}

    def _shared_category(self, what: tuple[str, str]) -> Category:
        leak = self.assume["feature.leak"]
        rows = self.reference.features if what[0] == "feature" else self.reference.quantities
        row = rows[what[1]]
        key = ("category", Same(row), self.names, self._identity, self.grid.size, leak)
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
        known = self._origin_priors.get(part_class)
        if known is None:
            known = self._origin_priors[part_class] = self._origin_prior(part_class)
        return known

    @cached_property
    def _origin_priors(self) -> dict[str, tuple[float, float, float]]:
        return {}

    def _origin_prior(self, part_class: str) -> tuple[float, float, float]:
        rho = self.assume.get(f"replaced.{part_class}.probability")
        if rho is None:
            rho = self.assume["replaced.other.probability"]
        period = self.assume["replaced.period_share"]
        return 1.0 - rho, rho * (1.0 - period), rho * period

    def married(self, assembly: str) -> float:
        if assembly == "chassis":
            return 0.0
        return self.assume.get(f"married.{assembly}.probability", 0.05)
