"""What a dossier teaches: expected numbers of all that the model counts, under its posterior.

Never the likeliest account alone: every number is a sum over all accounts of the amp, each with its
probability (model, week, stock age, origins, deliveries, sources, marriages).  So the derivative of
the log evidence by a parameter is the expected derivative of the logarithm of the complete account
(Fisher's identity), and these numbers are all it takes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from .expected_group import GroupCounts, group_counts, ticket_counts
from .expected_lone import lone_counts, reads_one_way
from .expected_sources import REST
from .expected_texts import DigitCounts, count_digits, counts_digits
from .factors import PartEvidence
from .joint import Joint
from .lags import EARLY
from .lone import Lone
from .setting import Setting
from .time import Array, IntArray
from .undated import Undated
from .units import DatedUnit, RepairedUnit, UndatedUnit, Unit
from .weighing import Posterior

__all__ = ["EARLY", "REST", "Bought", "Expected", "Fate", "Look", "expected"]

LEFT_OUT = 1e-6
"""The weeks, and the rivals, that share less of the posterior than this are left out."""

Value = tuple[str, str]
"""A feature and the value it was seen with."""


@dataclass(slots=True)
class Fate:
    """Expected numbers of parts of a class: looked at, later and period replacements among them.

    ``asked``: how often the chance of a replacement had a say (a part with a repair on record is
    asked but rarely).  ``square``: of how many more of a group were replaced than its rate says.
    """

    asked: float = 0.0
    later: float = 0.0
    period: float = 0.0
    square: float = 0.0


@dataclass(frozen=True, slots=True)
class Bought:
    """Expected deliveries of a class by source number, REST: one that is not listed.

    ``original``: by rival and build week, (len(models), len(weeks)); ``later``: by a repairer.
    """

    part_class: str
    models: IntArray
    weeks: IntArray
    original: Mapping[str, Array]
    later: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Look:
    """Features seen together on parts that are original, (len(models), len(weeks)); or features
    seen on replaced parts, (len(models), 1).  Several: they count as changed together.
    """

    values: tuple[Value, ...]
    original: bool
    models: IntArray
    weeks: IntArray
    number: Array


@dataclass(slots=True)
class Expected:
    """Everything one dossier teaches.

    ``lags``: by the class whose lag it is, original deliveries by stock age and lag in weeks from
    -EARLY on, (U, n); ``married``: P(another amp's) by assembly; ``digits``: by legibility, digits
    of week codes by what was struck and what is seen, (10, 10).
    """

    log_evidence: float
    lags: dict[str, Array] = field(default_factory=dict[str, Array])
    fates: dict[str, Fate] = field(default_factory=dict[str, Fate])
    married: dict[str, float] = field(default_factory=dict[str, float])
    bought: list[Bought] = field(default_factory=list[Bought])
    looks: list[Look] = field(default_factory=list[Look])
    digits: DigitCounts = field(default_factory=dict[str, Array])


@dataclass(frozen=True, slots=True)
class _Account:
    """Where a unit has its say: this amp or the one that its assembly is of.

    ``at``: the places of ``weeks`` among those of the amp's unit; ``weight``: P(m, u, B), (M, U or
    1, weeks).
    """

    at: IntArray
    weeks: IntArray
    weight: Array


def expected(post: Posterior) -> Expected:
    """The expected numbers of one dossier; its evidence must be finite."""
    joint = post.joint
    out = Expected(joint.log_evidence)
    counter = _Counter(post, out)
    accounts = _Accounts(joint, counter.models)
    for name in joint.marriages:
        out.married[name] = joint.married(name)
    for unit in joint.units:
        if unit.parts:
            by_age = _by_age(unit)
            for own in accounts.own(unit.assembly, by_age):
                counter.add(unit, own)
            for other in accounts.donors(unit.assembly, by_age):
                counter.add(joint.whole_of(unit), other)
    return out


class _Accounts:
    """The accounts of one joint; units of an assembly share them."""

    def __init__(self, joint: Joint, models: IntArray) -> None:
        self.joint, self.models = joint, models
        self._kept: dict[tuple[str, bool, bool], list[_Account]] = {}

    def own(self, assembly: str, by_age: bool) -> list[_Account]:
        """This amp: every assembly that can't be another's has the same."""
        key = (assembly if assembly in self.joint.marriages else "", by_age, True)
        if key not in self._kept:
            weight = self.joint.own_weight(assembly, (2, 2 if by_age else 1, 1))[self.models]
            self._kept[key] = self._account(self.joint.weeks, weight)
        return self._kept[key]

    def donors(self, assembly: str, by_age: bool) -> list[_Account]:
        """The other amp of an assembly that may be one's."""
        if assembly not in self.joint.marriages:
            return []
        key = (assembly, by_age, False)
        if key not in self._kept:
            weight = self.joint.donor_weight(assembly, (2, 2 if by_age else 1, 1))
            assert weight is not None
            if weight.shape[0] == 1:  # nothing seen on it depends on the model
                belongs = self.joint.belongs(assembly)
                by_model = (self.joint.reduced(True, True) * (1.0 - belongs)).sum(axis=(1, 2))
                weight = weight / weight.sum() * by_model[:, None, None]
            weeks: IntArray = np.arange(weight.shape[2], dtype=np.int64)
            self._kept[key] = self._account(weeks, weight[self.models])
        return self._kept[key]

    @staticmethod
    def _account(weeks: IntArray, weight: Array) -> list[_Account]:
        at = _carrying(weight.sum(axis=(0, 1)))
        return [_Account(at, weeks[at], weight[:, :, at])] if at.size else []


def _carrying(weight: Array) -> IntArray:
    """The fewest places that hold all but LEFT_OUT; rising."""
    held = np.flatnonzero(weight > 0.1 * LEFT_OUT / weight.size)
    mine = weight[held]
    order = mine.argsort()
    least = int(np.searchsorted(np.cumsum(mine[order]), 0.9 * LEFT_OUT))
    return np.sort(held[order[least:]])


def _by_age(unit: Unit) -> bool:
    return isinstance(unit.ordinary if isinstance(unit, RepairedUnit) else unit, DatedUnit)


class _Counter:
    def __init__(self, post: Posterior, out: Expected) -> None:
        self.out = out
        self.setting = post.setting
        self.evidence = {e.part.id: e for e in post.evidence}
        by_model = post.joint.by_model
        self.models: IntArray = _carrying(by_model)

    def add(self, unit: Unit, account: _Account) -> None:
        """Count a unit in an account; ``unit`` on all weeks that the account chooses from."""
        if isinstance(unit, DatedUnit):
            self._dated(unit, account)
        elif isinstance(unit, UndatedUnit):
            undated = unit.undated.on(account.at)
            self._undated(unit.parts, undated, account.weeks, account.weight)
        elif isinstance(unit, RepairedUnit):
            self._repaired(unit, account)

    # -- dated parts -------------------------------------------------------------------------------

    def _dated(self, unit: DatedUnit, account: _Account) -> None:
        at, weeks, weight = account.at, account.weeks, account.weight
        kinds: dict[int, list[PartEvidence]] = {}
        for part, kind in unit.place.items():
            kinds.setdefault(kind, []).append(self.evidence[part])
        digits = any(counts_digits(same[0], self.setting) for same in kinds.values())
        plan, group = unit.plan, unit.group
        if isinstance(group, Lone) and not digits and reads_one_way(plan):
            found = lone_counts(plan, group, self.models, at, weeks, weight)
        else:
            found = group_counts(plan, self.models, weeks, weight, digits=digits)
        name = self._lag_name(unit.part_class)
        _add_lags(self.out.lags, name, found.lags)
        fate = self._fate(unit.part_class)
        fate.asked += float(weight.sum()) * len(unit.place)
        fate.later += float(found.later.sum())
        fate.period += float(found.period.sum())
        # (replaced - k rho)^2, replaced = k - originals
        k, asked = len(unit.place), float(weight.sum())
        kept = k * (1.0 - sum(self.setting.origin_prior(unit.part_class)[1:]))
        fate.square += found.original_square
        fate.square += asked * kept**2 - 2.0 * kept * float(found.original.sum())
        if found.bought or found.bought_later:
            self.out.bought.append(
                Bought(unit.part_class, self.models, weeks, found.bought, found.bought_later)
            )
        for kind, same in kinds.items():
            values = _features_of(same[0], self.setting)
            if values:
                replaced = (found.later[kind] + found.period[kind]).sum(axis=1, keepdims=True)
                for _, value in values:
                    self._look((value,), found.original[kind], weeks)
                    self._look_replaced(value, replaced)
            if digits:
                self._digits(kind, same[0], unit, found)

    def _digits(self, kind: int, e: PartEvidence, unit: DatedUnit, found: GroupCounts) -> None:
        for t, text in enumerate(unit.plan.kinds[kind].texts):
            made = found.made.get((kind, t))
            if made is not None:
                source = found.source_digits.get((kind, t))
                count_digits(self.out.digits, e, text.source, made, source, self.setting)

    # -- undated parts -----------------------------------------------------------------------------

    def _undated(
        self, parts: Sequence[str], undated: Undated, weeks: IntArray, weight: Array
    ) -> None:
        """One pass over all patterns of which parts are original."""
        seen = [_features_of(self.evidence[p], self.setting) for p in parts]
        terms: list[tuple[tuple[bool, ...], Array]] = []
        total = np.zeros((1, 1))
        late = [_trim(p.later, self.models) for p in undated.parts]
        period = [_trim(p.period, self.models) for p in undated.parts]
        original = [_trim(p.original, self.models) for p in undated.parts]
        for pattern, features in undated.features.items():
            term = _trim(features, self.models)
            for i, is_original in enumerate(pattern):
                term = term * (original[i] if is_original else late[i] + period[i])
            terms.append((pattern, term))
            total = total + term
        by_week = weight.sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            q = np.where(total > 0, by_week / total, 0.0)
        whole = float(by_week.sum())
        for i, part in enumerate(parts):
            rest = late[i] + period[i]
            with np.errstate(divide="ignore", invalid="ignore"):
                share = np.where(rest > 0, late[i] / rest, 0.0)
            gone = q * sum((t for pattern, t in terms if not pattern[i]), np.zeros((1, 1)))
            fate = self._fate(self.evidence[part].part.part_class)
            fate.asked += whole
            fate.later += float((gone * share).sum())
            fate.period += float((gone * (1.0 - share)).sum())
            rho = sum(self.setting.origin_prior(self.evidence[part].part.part_class)[1:])
            fate.square += float(gone.sum()) * (1.0 - 2.0 * rho) + whole * rho**2
        if any(seen):
            for pattern, term in terms:
                self._looks_of(pattern, seen, np.broadcast_to(q * term, by_week.shape), weeks)

    def _looks_of(
        self,
        pattern: tuple[bool, ...],
        seen: Sequence[Sequence[tuple[str, Value]]],
        number: Array,
        weeks: IntArray,
    ) -> None:
        together: dict[str, list[Value]] = {}
        replaced = number.sum(axis=1, keepdims=True)
        for is_original, values in zip(pattern, seen, strict=True):
            for group, value in values:
                if not is_original:
                    self._look_replaced(value, replaced)
                elif group:
                    together.setdefault(group, []).append(value)
                else:
                    self._look((value,), number, weeks)
        for values in together.values():
            self._look(tuple(values), number, weeks)

    def _look(self, values: tuple[Value, ...], number: Array, weeks: IntArray) -> None:
        self.out.looks.append(Look(values, True, self.models, weeks, number))

    def _look_replaced(self, value: Value, number: Array) -> None:
        self.out.looks.append(Look((value,), False, self.models, self.models[:0], number))

    # -- known repairs -----------------------------------------------------------------------------

    def _repaired(self, unit: RepairedUnit, account: _Account) -> None:
        cut = unit.on(account.at)
        assert isinstance(cut, RepairedUnit)
        weeks, weight = account.weeks, account.weight
        values = _trim(cut.values, self.models)
        with np.errstate(divide="ignore", invalid="ignore"):
            q = np.where(values > 0, weight / values, 0.0)
        ordinary = q * unit.leak * _trim(cut.ordinary.values, self.models)
        inner = _Account(account.at, weeks, np.broadcast_to(ordinary, weight.shape))
        self.add(unit.ordinary, inner)
        ticket = (q * (1.0 - unit.leak) * _trim(cut.ticket, self.models)).sum(axis=1)
        e = self.evidence[unit.parts[0]]
        for _, value in _features_of(e, self.setting):
            self._look_replaced(value, ticket.sum(axis=1, keepdims=True))
        if not isinstance(unit.ordinary, DatedUnit) or e.repair is None:
            return
        plan, digits = unit.ordinary.plan, counts_digits(e, self.setting)
        repaired = self.setting.grid.weeks_of(e.repair.first, e.repair.last)
        found = ticket_counts(plan, weeks, ticket.sum(axis=0), repaired, digits=digits)
        if found.bought_later:
            self.out.bought.append(
                Bought(unit.ordinary.part_class, self.models, weeks, {}, found.bought_later)
            )
        for t, made in found.made.items():
            text = plan.kinds[0].texts[t]
            source = found.source_digits.get(t)
            count_digits(self.out.digits, e, text.source, made, source, self.setting)

    # -- by name -----------------------------------------------------------------------------------

    def _fate(self, part_class: str) -> Fate:
        known = f"replaced.{part_class}.probability" in self.setting.assume
        return self.out.fates.setdefault(part_class if known else "other", Fate())

    def _lag_name(self, part_class: str) -> str:
        known = f"lag.{part_class}.median_weeks" in self.setting.assume
        return part_class if known else "other"


def _features_of(e: PartEvidence, setting: Setting) -> list[tuple[str, Value]]:
    """Group ('' for none) and value of every feature seen on a part, in the order of its marks."""
    out: list[tuple[str, Value]] = []
    for mark, reading in e.read:
        if reading.dating != "value":
            continue
        name = mark.feature if mark.kind == "feature" else "loudspeaker-designation"
        feature = setting.reference.features.get(str(name))
        if feature is not None:
            group = feature.group if mark.kind == "feature" else ""
            out.append((group, (feature.id, str(reading.value))))
    return out


def _trim(a: Array, models: IntArray) -> Array:
    return a[models] if a.shape[0] > 1 else a


def _add_lags(into: dict[str, Array], name: str, more: Array) -> None:
    old = into.get(name)
    if old is None:
        into[name] = more
        return
    if old.shape[1] < more.shape[1]:
        old, more = more.copy(), old
    else:
        old = old.copy()
    old[:, : more.shape[1]] += more
    into[name] = old
