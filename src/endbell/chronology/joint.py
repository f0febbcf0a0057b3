"""All units together: the joint distribution of model, build week and stock age, and its marginals.

docs/model.md, section 9.  Axes are always (model, stock age, week).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from functools import cached_property

import numpy as np

from . import blocks
from .logs import Summing, log_of, log_product, log_total, scaled_product
from .marriage import Marriage, donor_log, marriage
from .setting import Setting
from .time import Array, BoolArray, IntArray, on_weeks
from .units import Unit

MARGIN_NATS = 29.0
"""Weeks in which no model and stock age can hold exp(-29) of the whole are not summed: a thousand
of them are less than 1e-9 of it."""

SLACK = 12.0
"""Nats kept beyond that where marks will be left out, so that it seldom needs other weeks."""

FIRST_GUESS = 4.0
"""How far the highest bound may lie above the whole, in nats, before it must be done again."""

DROPPED = 5e-13
"""Weeks whose share of the posterior is below this are left out of expectations of probabilities:
5,000 of them change a probability by less than 3e-9."""


class Joint:
    """The exact joint of one dossier's units under one setting, on the weeks that can carry weight.

    ``weeks``: indices into the grid; ``weight``: (M, U, len(weeks)), sums to one.  Weeks left out
    (but for ``also``) are below exp(-MARGIN_NATS) of the likeliest: known from the units' bounds
    (``highest``, ln, by group of stock ages and block of weeks).
    """

    def __init__(
        self,
        units: Sequence[Unit],
        setting: Setting,
        *,
        also: IntArray | None = None,
        only: IntArray | None = None,
        slack: float = SLACK,
    ) -> None:
        """``also``: weeks to keep whatever their weight; ``only``: the weeks to sum, known
        beforehand; ``slack``: see SLACK.
        """
        self.setting = setting
        self.whole = tuple(units)
        core = [u for u in units if setting.married(u.assembly) <= 0.0]
        whole_marriages: dict[str, Marriage] = {}
        for u in units:
            mu = setting.married(u.assembly)
            if mu > 0.0 and u.assembly not in whole_marriages:
                mine = [v.values for v in units if v.assembly == u.assembly]
                whole_marriages[u.assembly] = marriage(mine, setting, mu)
        if only is not None:
            self._settle(*self._evaluate(core, whole_marriages, only), only)
            self.highest = np.zeros((1, blocks.count(setting.grid.size)))
            return
        highest = setting.log_prior_bound
        highest = highest + log_product([u.bound[None] for u in core])[0]
        for m in whole_marriages.values():
            highest = highest + m.log_mix_bound
        self.highest = highest
        top = float(highest.max())
        if not np.isfinite(top):
            self._nothing()
            return
        size = setting.grid.size
        by_block = highest.max(axis=0)
        held = by_block > top - MARGIN_NATS - slack - FIRST_GUESS
        if also is not None:
            held |= blocks.blocks_of(also, size)
        while True:
            weeks = blocks.weeks_of(held.nonzero()[0], size)
            product, scale = self._evaluate(core, whole_marriages, weeks)
            needed = by_block > log_total(product, scale) - MARGIN_NATS - slack
            if not (needed & ~held).any():
                break
            held |= needed
        self._settle(product, scale, weeks)

    def _settle(self, product: Array, scale: float, weeks: IntArray) -> None:
        self.weeks: IntArray = weeks
        self.log_evidence = log_total(product, scale)
        total = float(product.sum())
        self.weight: Array = product / total if total > 0.0 else product

    def _evaluate(
        self, core: Sequence[Unit], whole: Mapping[str, Marriage], weeks: IntArray
    ) -> tuple[Array, float]:
        """The joint on some weeks, up to a factor, and the logarithm of that factor."""
        cut = {u: u.on(weeks) for u in self.whole}
        self.units = tuple(cut.values())
        self.marriages = {name: m.on(weeks) for name, m in whole.items()}
        self.whole_marriages: Mapping[str, Marriage] = whole
        setting = self.setting
        factors = [
            setting.odds[:, None, None] * setting.prior[:, None, weeks],
            setting.nodes[1][None, :, None],
            *(cut[u].values for u in core),
        ]
        return scaled_product(factors, [m.log_mix for m in self.marriages.values()])

    def _nothing(self) -> None:
        """No week is possible: an empty joint."""
        self.weeks = np.arange(self.setting.grid.size)
        self.units, self.marriages = self.whole, {}
        self.whole_marriages = {}
        self.log_evidence = float("-inf")
        self.highest = np.full((1, blocks.count(self.setting.grid.size)), -np.inf)
        self.weight = np.zeros(
            (len(self.setting.models), self.setting.nodes[0].size, self.weeks.size)
        )

    def whole_of(self, unit: Unit) -> Unit:
        """The unit on the whole grid."""
        return self.whole[self.units.index(unit)]

    # -- marginals -------------------------------------------------------------------------------

    @cached_property
    def by_week(self) -> Array:
        """p(B), shape (size,)."""
        return self.spread_out(self.weight.sum(axis=(0, 1)))

    def spread_out(self, values: Array) -> Array:
        """Values on the joint's weeks put on the whole grid, 0 elsewhere; shape (..., size)."""
        out = np.zeros((*values.shape[:-1], self.setting.grid.size))
        out[..., self.weeks] = values
        return out

    @cached_property
    def by_model(self) -> Array:
        """p(m), shape (M,)."""
        return self.weight.sum(axis=(1, 2))

    @cached_property
    def active(self) -> IntArray:
        """Which of the joint's weeks carry weight (positions in ``weeks``)."""
        return np.flatnonzero(self.weight.sum(axis=(0, 1)) > DROPPED)

    def reduced(self, models: bool, ages: bool) -> Array:
        """The joint summed over the axes that a factor doesn't have; keeps three axes."""
        axes = tuple(i for i, keep in enumerate((models, ages)) if not keep)
        return self._reductions[(models, ages)] if axes else self.weight

    @cached_property
    def _reductions(self) -> Mapping[tuple[bool, bool], Array]:
        no_models = self.weight.sum(axis=0, keepdims=True)
        return {
            (False, True): no_models,
            (True, False): self.weight.sum(axis=1, keepdims=True),
            (False, False): no_models.sum(axis=1, keepdims=True),
        }

    def for_shape(self, factor: Array) -> Array:
        """The joint reduced to the axes of a factor."""
        return self.reduced(factor.shape[0] > 1, factor.shape[1] > 1)

    def belongs(self, assembly: str) -> Array:
        """P(the assembly belongs | m, B, u); ones where it can't be another's."""
        m = self.marriages.get(assembly)
        return np.ones((1, 1, 1)) if m is None else m.belongs

    def married(self, assembly: str) -> float:
        """P(the assembly is another amp's)."""
        b = self.belongs(assembly)
        return float((self.for_shape(b) * (1.0 - b)).sum())

    def own_weight(self, assembly: str, shape: tuple[int, ...]) -> Array:
        """P(m, B, u and the assembly belongs), reduced to a factor's axes."""
        b = self.belongs(assembly)
        full = self.reduced(shape[0] > 1 or b.shape[0] > 1, shape[1] > 1 or b.shape[1] > 1) * b
        axes = tuple(i for i in (0, 1) if shape[i] == 1 and full.shape[i] > 1)
        return full.sum(axis=axes, keepdims=True) if axes else full

    def donor_weight(self, assembly: str, shape: tuple[int, ...]) -> Array | None:
        """P(m, B', u' of the other amp and the assembly is its) on the whole grid, reduced to
        axes.
        """
        m = self.marriages.get(assembly)
        if m is None:
            return None
        share = (self.for_shape(m.belongs) * (1.0 - m.belongs)).sum(axis=(1, 2))
        full = self._donors(assembly) * share[:, None, None]
        if shape[1] > 1 and full.shape[1] == 1:
            full = full * self.setting.nodes[1][None, :, None]
        axes = tuple(i for i in (0, 1) if shape[i] == 1 and full.shape[i] > 1)
        return full.sum(axis=axes, keepdims=True) if axes else full

    def _donors(self, assembly: str) -> Array:
        """P(B', u' | the assembly is another amp's); without the stock-age axis if nothing depends
        on it.
        """
        if assembly not in self._donor_kept:
            m = self.whole_marriages[assembly]
            by_age = m.log_lambda.shape[1] > 1
            prior = donor_log(self.setting) if by_age else log_of(self.setting.era)[None, None, :]
            self._donor_kept[assembly] = np.exp(prior + m.log_lambda - m.log_z[:, None, None])
        return self._donor_kept[assembly]

    @cached_property
    def _donor_kept(self) -> dict[str, Array]:
        return {}

    def donor_by_week(self, assembly: str) -> Array:
        """p(B') of an assembly, given that it is another amp's; shape (size,)."""
        weight = self.donor_weight(assembly, (1, 1, 1))
        assert weight is not None
        out = weight.sum(axis=(0, 1))
        return out / out.sum() if out.sum() > 0 else out

    # -- questions -------------------------------------------------------------------------------

    @cached_property
    def active_units(self) -> dict[Unit, Unit]:
        """Every unit cut to the active weeks."""
        return {u: u.on(self.active) for u in self.units}

    def shares(self, unit: Unit, ask: Callable[[Unit], Sequence[Array]]) -> list[float]:
        """P(each restriction of a unit, and its assembly belongs), on the active weeks."""
        if unit not in self._own_shares:
            cut = self.active_units[unit]
            values = cut.values
            per_value = _ratio(self._own_active(unit.assembly, values.shape), values)
            self._own_shares[unit] = cut, Summing(per_value)
        cut, summing = self._own_shares[unit]
        return [summing.times(values) for values in ask(cut)]

    @cached_property
    def _own_shares(self) -> dict[Unit, tuple[Unit, Summing]]:
        return {}

    def _own_active(self, assembly: str, shape: tuple[int, ...]) -> Array:
        key = (assembly, shape[0] > 1, shape[1] > 1)
        if key not in self._own:
            self._own[key] = self.own_weight(assembly, shape)[:, :, self.active]
        return self._own[key]

    @cached_property
    def _own(self) -> dict[tuple[str, bool, bool], Array]:
        return {}

    def donor_shares(self, unit: Unit, ask: Callable[[Unit], Sequence[Array]]) -> list[float]:
        """The same on the side where the assembly is another amp's, on the whole grid."""
        if unit not in self._other_shares:
            whole = self.whole_of(unit)
            values = whole.values
            weight = self.donor_weight(unit.assembly, values.shape)
            summing = None if weight is None else Summing(_ratio(weight, values))
            self._other_shares[unit] = whole, summing
        whole, summing = self._other_shares[unit]
        if summing is None:
            return [0.0 for _ in ask(whole)]
        return [summing.times(values) for values in ask(whole)]

    @cached_property
    def _other_shares(self) -> dict[Unit, tuple[Unit, Summing | None]]:
        return {}

    def conditional(self, parts: Collection[str]) -> Array:
        """P(all these parts original | m, B, u), on the active weeks; (M or 1, U or 1, active)."""
        out: Array = np.ones((1, 1, 1))
        married: list[str] = []
        for unit in self.units:
            mine = [p for p in unit.parts if p in parts]
            if mine:
                cut = self.active_units[unit]
                out = out * _ratio(cut.all_original(mine), cut.values)
                if unit.assembly not in married:
                    married.append(unit.assembly)
        for assembly in married:
            b = self.belongs(assembly)
            out = out * on_weeks(b, self.active)
        return out

    def expect(
        self, factor: Array, weeks: Array | None = None, models: Array | None = None
    ) -> float:
        """E[factor] over the active weeks, optionally within some weeks (bool) and some models
        (bool).
        """
        shape = (2 if models is not None else factor.shape[0], factor.shape[1])
        weight = self.reduced(shape[0] > 1, shape[1] > 1)[:, :, self.active]
        if models is not None:
            weight = weight * models[:, None, None]
        if weeks is not None:
            weight = weight * weeks[self.weeks[self.active]]
        return float((weight * factor).sum())

    def replaced_by(self, old: Sequence[Unit], new: Sequence[Unit]) -> tuple[Array, float]:
        """p(B) and the change in log evidence if ``old`` units were ``new`` (whole) ones.

        ``old``: units of this joint.  Both lists must lie in one assembly (or be amp-level). Exact:
        the joint is reweighted; (size,) and a number.
        """
        assembly = next((u.assembly for u in (*old, *new)), "chassis")
        m = self.marriages.get(assembly)
        if m is None:
            with np.errstate(divide="ignore", invalid="ignore"):
                factor = _product([u.on(self.weeks).values for u in new]) / _product(
                    [u.values for u in old]
                )
            if not np.isfinite(factor).all():
                return self.afresh(old, new)
        else:
            gone = {self.whole_of(u) for u in old}
            kept = [u for u in self.whole if u.assembly == assembly and u not in gone]
            other = marriage([u.values for u in (*kept, *new)], self.setting, m.mu)
            factor = np.exp(other.on(self.weeks).log_mix - m.log_mix)
        weighted = self.for_shape(factor) * factor
        by_week = weighted.sum(axis=(0, 1))
        total = float(by_week.sum())
        if m is None and self._misses(old, new, float(np.log(by_week.max()))):
            return self.afresh(old, new)
        return self.spread_out(by_week / total), float(np.log(total))

    def _misses(self, old: Sequence[Unit], new: Sequence[Unit], peak: float) -> bool:
        """Whether a week that was left out could carry weight after the exchange."""
        outside = ~blocks.blocks_of(self.weeks, self.setting.grid.size)
        if not outside.any():
            return False
        highest = self.highest[:, outside] - self.log_evidence
        for u in old:
            bound = _outside(self.whole_of(u).bound, outside)
            with np.errstate(invalid="ignore"):  # what can't be, less what can't be
                highest = highest - log_of(bound)
        if all(u.a_probability for u in new) and bool((highest < peak - MARGIN_NATS).all()):
            return False  # they can only lower it
        for u in new:
            bound = _outside(u.bound, outside)
            with np.errstate(invalid="ignore"):
                highest = highest + log_of(bound)
        return not bool((highest < peak - MARGIN_NATS).all())  # so a NaN means: look again

    def afresh(self, old: Sequence[Unit], new: Sequence[Unit]) -> tuple[Array, float]:
        """The same by building the joint again."""
        gone = {self.whole_of(u) for u in old}
        kept = [u for u in self.whole if u not in gone]
        fresh = Joint([*kept, *new], self.setting, also=self.weeks)
        return fresh.by_week, fresh.log_evidence - self.log_evidence


def _outside(bound: Array, outside: BoolArray) -> Array:
    return bound[:, outside] if bound.shape[1] > 1 else bound


def _product(arrays: Sequence[Array]) -> Array:
    out: Array = np.ones((1, 1, 1))
    for a in arrays:
        out = out * a
    return out


def _ratio(part: Array, whole: Array) -> Array:
    """The quotient, 0 where the whole is."""
    if whole.min() > 0:
        return part / whole
    with np.errstate(divide="ignore", invalid="ignore"):
        out = part / whole
    return np.where(whole > 0, out, 0.0)
