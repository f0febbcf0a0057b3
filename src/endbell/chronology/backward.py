"""Where the rest of the dossier would put the date of one part: the transpose of the delivery sums.

Because the likelihood is linear in what is said of any one part, one pass gives the exact
predictive
distribution of its date given *all other* marks, and so both its readings' weights and its
conflict.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..marks import Vector
from .convolve import later_backward, window_backward
from .counting import Counts
from .dates import Dates
from .deliveries import Deliveries
from .joint import Joint
from .partitions import Component
from .plan import Choice
from .sources import Sourced
from .time import Array, IntArray, on_weeks
from .units import DatedUnit


@dataclass(frozen=True, eq=False)
class DateWeight:
    """Weight of every week for the making of a part, if its source characters are ``source``;
    (size,).
    """

    source: tuple[Vector, ...] | None
    weeks: Array


def date_weights(joint: Joint, unit: DatedUnit, part: str) -> tuple[DateWeight, ...]:
    """The derivative of the evidence by t(sigma, w) of one part, for each source its texts can
    have.
    """
    weeks = joint.weeks
    shape = (unit.values.shape[0], 2, 1)
    weight = joint.own_weight(unit.assembly, shape)
    if unit.assembly in joint.marriages:
        donor = joint.donor_weight(unit.assembly, shape)
        if donor is not None:
            weight = joint.spread_out(weight) + donor
            weeks = np.arange(joint.setting.grid.size)
            whole = joint.whole_of(unit)
            assert isinstance(whole, DatedUnit)
            unit = whole
    with np.errstate(divide="ignore", invalid="ignore"):
        q = np.where(unit.values > 0, weight / unit.values, 0.0)
    return tuple(_Transpose(unit.deliveries, unit.place[part], q, weeks).weights())


class _Transpose:
    """One part taken out of its group: what multiplies its date, role by role."""

    def __init__(self, group: Deliveries, kind: int, q: Array, weeks: IntArray) -> None:
        self.group = group
        self.plan = group.plan
        self.weeks = weeks
        self.q = q
        self.index, self.tau = group.component_of(kind)
        self.component: Component = group.components[self.index]
        self.kind = self.plan.kinds[kind]

    def weights(self) -> Iterator[DateWeight]:
        zero: Counts = (0,) * len(self.component.size)
        lags, size = self.plan.lags, self.plan.size
        sources = list(dict.fromkeys(t.source for t in self.kind.texts))
        shipped = {s: np.zeros(size) for s in sources}
        for where, companions in self._companies():
            original = self._weight("original", where, companions)
            later = self._weight("later", where, companions)
            if original is None or later is None:
                continue
            for source in sources:
                for c in self._choices(where, companions, source):
                    on = lags.original.backward(self._from_builds(original, c.source), self.weeks)
                    share = 1.0 if c.source is None else c.source.replaced
                    fitted = later.sum(axis=(0, 1)) * share
                    on = on + later_backward(self._whole(fitted), lags.service)
                    shipped[source] += on * c.date.dense
        period = self._weight("period", self.index, zero)
        assert period is not None
        for source in sources:
            share = 1.0 if source is None else self.plan.weigh([source]).replaced
            spread = self._whole(period.sum(axis=(0, 1)) * share)
            made = window_backward(spread, lags.period_half)
            for e, p in enumerate(lags.spread):
                made[: size - e] += p * shipped[source][e:]
            yield DateWeight(source, made)

    def _companies(self) -> Iterator[tuple[int, Counts]]:
        """Alone, or with parts of any component that its text keeps it from or not: another date
        might join them.
        """
        yield self.index, (0,) * len(self.component.size)
        for i, component in enumerate(self.group.components):
            for companions in component.blocks:
                yield i, companions

    def _weight(self, role: str, where: int, companions: Counts) -> Array | None:
        """What multiplies the part's date in a role, with companions from a component."""
        single = self.group.single
        if where == self.index:
            mine = self.component.poly_beside(self.tau, role, companions, single=single)
            return None if mine is None else self.q * self.group.with_poly(self.index, mine)
        polys = list(self.group.polys)
        polys[self.index] = self.component.poly_left(self.tau)
        polys[where] = self.group.components[where].poly_joined(role, companions)
        own = (self.component.original if role == "original" else self.component.later)[self.tau]
        return self.q * own * self.group.combine(polys)

    def _choices(
        self, where: int, companions: Counts, source: tuple[Vector, ...] | None
    ) -> Iterator[Choice]:
        if any(companions):
            members = self.group.components[where].members
            yield from self.plan.choices(members, companions, source)
        elif source is None:
            yield Choice(self._any_date, None)
        else:
            yield Choice(self._any_date, self.plan.weigh([source]))

    @property
    def _any_date(self) -> Dates:
        return Dates.of(np.ones(self.plan.size))

    def _from_builds(self, weight: Array, source: Sourced | None) -> Array:
        """Weight by stock age and build week, (U, weeks)."""
        if source is None:
            return weight.sum(axis=0)
        p = source.original
        return (weight * on_weeks(p, self.weeks)[:, None]).sum(axis=0)

    def _whole(self, values: Array) -> Array:
        out = np.zeros(self.plan.size)
        out[self.weeks] = values
        return out
