"""All units together: the joint distribution of model, build week and stock age, and its marginals.

docs/model.md, section 9.  Axes are always (model, stock age, week).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .setting import Setting
from .time import Array, IntArray
from .units import Unit

DROPPED = 1e-14
"""Weeks whose share of the posterior is below this are left out of expectations of probabilities:
5,000 of them change a probability by less than 1e-10."""


def log_product(factors: Sequence[Array]) -> Array:
    """ln of the product of non-negative arrays that broadcast; logs are taken as seldom as is safe.

    >>> float(log_product([np.array([2.0]), np.array([3.0])])[0]) == np.log(6.0)
    True
    """
    total: Array = np.zeros((1, 1, 1))
    product: Array | None = None
    room = 0.0
    for f in factors:
        peak = f.max()
        low = f.min()
        need = 750.0 if low <= 0 or peak <= 0 else float(abs(np.log(low)) + abs(np.log(peak)))
        if product is not None and room + need < 600.0 and product.shape[0] == f.shape[0]:
            product = product * f
            room += need
        else:
            if product is not None:
                total = total + _log(product)
            product, room = f, need
    return total if product is None else total + _log(product)


def _log(a: Array) -> Array:
    with np.errstate(divide="ignore"):
        return np.log(a)


def log_sum(a: Array) -> float:
    """ln sum exp of a whole array; -inf if nothing is possible."""
    peak = float(a.max())
    if not np.isfinite(peak):
        return float("-inf")
    return peak + float(np.log(np.exp(a - peak).sum()))


@dataclass(frozen=True, eq=False)
class Marriage:
    """What an assembly adds: ln Lambda, ln Z by model, mu; all (M or 1, U or 1, size) or (M or 1,)."""

    log_lambda: Array
    log_z: Array
    mu: float

    @cached_property
    def log_mix(self) -> Array:
        own = np.log1p(-self.mu) + self.log_lambda if self.mu < 1 else np.full_like(self.log_lambda, -np.inf)
        other = (_log(np.array(self.mu)) + self.log_z)[:, None, None]
        return np.logaddexp(own, other)

    @cached_property
    def belongs(self) -> Array:
        """P(the assembly belongs | model, week, stock age)."""
        return np.exp(np.log1p(-self.mu) + self.log_lambda - self.log_mix)


class Joint:
    """The exact joint of one dossier's units under one setting."""

    def __init__(self, units: Sequence[Unit], setting: Setting) -> None:
        self.units = tuple(units)
        self.setting = setting
        core = [u for u in self.units if setting.married(u.assembly) <= 0.0]
        self.marriages: dict[str, Marriage] = {}
        for u in self.units:
            if setting.married(u.assembly) > 0.0 and u.assembly not in self.marriages:
                mine = [v.values for v in self.units if v.assembly == u.assembly]
                self.marriages[u.assembly] = marriage(mine, setting, setting.married(u.assembly))
        log = log_prior(setting) + log_product([u.values for u in core])
        for m in self.marriages.values():
            log = log + m.log_mix
        self.log_evidence = log_sum(log)
        scaled = log - (self.log_evidence if np.isfinite(self.log_evidence) else 0.0)
        self.weight: Array = np.exp(scaled)  # (M, U, size), sums to one

    # -- marginals -------------------------------------------------------------------------------

    @cached_property
    def by_week(self) -> Array:
        """p(B), shape (size,)."""
        return self.weight.sum(axis=(0, 1))

    @cached_property
    def by_model(self) -> Array:
        """p(m), shape (M,)."""
        return self.weight.sum(axis=(1, 2))

    @cached_property
    def active(self) -> IntArray:
        """Indices of the weeks that carry weight."""
        return np.flatnonzero(self.by_week > DROPPED)

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
        """P(m, B', u' of the other amp and the assembly is its), reduced to a factor's axes."""
        m = self.marriages.get(assembly)
        if m is None:
            return None
        share = (self.for_shape(m.belongs) * (1.0 - m.belongs)).sum(axis=(1, 2))
        log = donor_log(self.setting) + m.log_lambda - m.log_z[:, None, None]
        full = np.exp(log) * share[:, None, None]
        axes = tuple(i for i in (0, 1) if shape[i] == 1 and full.shape[i] > 1)
        return full.sum(axis=axes, keepdims=True) if axes else full

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
        cut = self.active_units[unit]
        out: list[float] = []
        for values in ask(cut):
            ratio = _ratio(values, cut.values)
            out.append(float((self._own_active(unit.assembly, ratio.shape) * ratio).sum()))
        return out

    def _own_active(self, assembly: str, shape: tuple[int, ...]) -> Array:
        key = (assembly, shape[0] > 1, shape[1] > 1)
        if key not in self._own:
            self._own[key] = self.own_weight(assembly, shape)[:, :, self.active]
        return self._own[key]

    @cached_property
    def _own(self) -> dict[tuple[str, bool, bool], Array]:
        return {}

    def donor_shares(self, unit: Unit, ask: Callable[[Unit], Sequence[Array]]) -> list[float]:
        """The same on the side where the assembly is another amp's, on all weeks."""
        out: list[float] = []
        for values in ask(unit):
            ratio = _ratio(values, unit.values)
            weight = self.donor_weight(unit.assembly, ratio.shape)
            out.append(0.0 if weight is None else float((weight * ratio).sum()))
        return out

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
            out = out * (b[:, :, self.active] if b.shape[2] > 1 else b)
        return out

    def expect(self, factor: Array, weeks: Array | None = None, models: Array | None = None) -> float:
        """E[factor] over the active weeks, optionally within some weeks (bool) and some models (bool)."""
        shape = (2 if models is not None else factor.shape[0], factor.shape[1])
        weight = self.reduced(shape[0] > 1, shape[1] > 1)[:, :, self.active]
        if models is not None:
            weight = weight * models[:, None, None]
        if weeks is not None:
            weight = weight * weeks[self.active]
        return float((weight * factor).sum())

    def replaced_by(self, old: Sequence[Unit], new: Sequence[Unit]) -> tuple[Array, float]:
        """p(B) and the change in log evidence if ``old`` units were ``new`` ones.

        Both lists must lie in one assembly (or be amp-level). Exact: the joint is reweighted.
        """
        assembly = next((u.assembly for u in (*old, *new)), "chassis")
        m = self.marriages.get(assembly)
        if m is None:
            with np.errstate(divide="ignore", invalid="ignore"):
                factor = _product([u.values for u in new]) / _product([u.values for u in old])
            if not np.isfinite(factor).all():
                return self._from_scratch(old, new)
        else:
            kept = [u for u in self.units if u.assembly == assembly and u not in old]
            other = marriage([u.values for u in (*kept, *new)], self.setting, m.mu)
            factor = np.exp(other.log_mix - m.log_mix)
        weighted = self.for_shape(factor) * factor
        total = float(weighted.sum())
        return weighted.sum(axis=(0, 1)) / total, float(np.log(total))

    def _from_scratch(self, old: Sequence[Unit], new: Sequence[Unit]) -> tuple[Array, float]:
        kept = [u for u in self.units if u not in old]
        fresh = Joint([*kept, *new], self.setting)
        return fresh.by_week, fresh.log_evidence - self.log_evidence


def marriage(values: Sequence[Array], setting: Setting, mu: float) -> Marriage:
    """The two accounts of an assembly from its units' values."""
    log_lambda = log_product(values)
    log = donor_log(setting) + log_lambda
    log_z = np.array([log_sum(log[m]) for m in range(log.shape[0])])
    return Marriage(log_lambda, log_z, mu)


def log_prior(setting: Setting) -> Array:
    """ln P(m) prior_m(B) w_u, shape (M, U, size)."""
    return (
        _log(setting.odds)[:, None, None] + _log(setting.prior)[:, None, :]
        + _log(setting.nodes[1])[None, :, None]
    )


def donor_log(setting: Setting) -> Array:
    """ln donor(B') w_u', shape (1, U, size)."""
    return _log(setting.era)[None, None, :] + _log(setting.nodes[1])[None, :, None]


def _product(arrays: Sequence[Array]) -> Array:
    out: Array = np.ones((1, 1, 1))
    for a in arrays:
        out = out * a
    return out


def _ratio(part: Array, whole: Array) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        out = part / whole
    return np.where(whole > 0, out, 0.0)
