"""Where the rest of the dossier would put the date of one part: the transpose of the delivery sums.

Because the likelihood is linear in what is said of any one part, one pass gives the exact predictive
distribution of its date given *all other* marks, and so both its readings' weights and its conflict.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from ..marks import Vector
from .convolve import later_backward, window_backward
from .deliveries import Component, Counts, Deliveries
from .joint import Joint
from .lags import OFFSETS
from .texts import delivered
from .time import Array
from .units import DatedUnit


@dataclass(frozen=True, eq=False)
class DateWeight:
    """Weight of every week for the making of a part, if its source characters are ``source``; (size,)."""

    source: tuple[Vector, ...] | None
    weeks: Array


def date_weights(joint: Joint, unit: DatedUnit, part: str) -> tuple[DateWeight, ...]:
    """The derivative of the evidence by t(sigma, w) of one part, for each source its texts can have."""
    shape = (len(unit.groups), 2, 1)
    weight = joint.own_weight(unit.assembly, shape)
    donor = joint.donor_weight(unit.assembly, shape)
    if donor is not None:
        weight = weight + donor
    out: dict[object, DateWeight] = {}
    for group in dict.fromkeys(unit.groups):
        members = [m for m, g in enumerate(unit.groups) if g is group]
        held = weight if weight.shape[0] == 1 else weight[members]
        if weight.shape[0] == 1 and len(dict.fromkeys(unit.groups)) > 1:
            held = joint.own_weight(unit.assembly, (2, 2, 1))[members]
        total = group.total()
        with np.errstate(divide="ignore", invalid="ignore"):
            q = np.where(total > 0, held.sum(axis=0) / total, 0.0)
        for source, weeks in _of_group(group, part, q):
            before = out.get(source)
            out[source] = DateWeight(source, weeks if before is None else before.weeks + weeks)
    return tuple(out.values())


def _of_group(
    group: Deliveries, part: str, q: Array
) -> Iterator[tuple[tuple[Vector, ...] | None, Array]]:
    index, tau = group.component_of(part)
    component = group.components[index]
    kind = group.kinds[component.members[tau]]
    single = len(group.components) == 1
    others = [
        None if i == index else c.poly(lambda _o, _l, _k: 1.0, single=single)
        for i, c in enumerate(group.components)
    ]

    def beside(role: str, companions: Counts) -> Array | None:
        mine = component.poly_beside(tau, role, companions, single=single)
        if mine is None:
            return None
        return q * group.combine([mine if p is None else p for p in others])

    size = group.lags.original.size
    sources = dict.fromkeys(t.source for t in kind.texts)
    delivered_on = {s: np.zeros(size) for s in sources}
    made_in = {s: np.zeros(size) for s in sources}
    zero: Counts = (0,) * len(component.size)
    for companions in (zero, *component.blocks):
        for role in ("original", "later"):
            weight = beside(role, companions)
            if weight is None:
                continue
            for source in sources:
                for date, original, replaced in _companies(group, component, companions, source):
                    if role == "original":
                        found = group.lags.original.backward(weight * original)
                    else:
                        found = later_backward(weight.sum(axis=0) * replaced, group.lags.service)
                    delivered_on[source] += found * date
    period = beside("period", zero)
    assert period is not None
    spread = window_backward(period.sum(axis=0), group.lags.period_half)
    for source in sources:
        share = 1.0 if source is None else group.sources.weigh([source])[1]
        made_in[source] += share * spread
        on = delivered_on[source]
        for e, p in enumerate(OFFSETS):
            made_in[source][: size - e] += p * on[e:]
        yield source, made_in[source]


def _companies(
    group: Deliveries, component: Component, companions: Counts, source: tuple[Vector, ...] | None
) -> Iterator[tuple[Array, Array, float]]:
    """Ways in which companions and a part with this source agree: dates, P(source) original, replaced."""
    size = group.lags.original.size
    chosen = [
        (group.kinds[component.members[i]].texts, n) for i, n in enumerate(companions) if n
    ]
    for texts in product(*(t for t, _ in chosen)):
        cells = [t.source for t, (_, n) in zip(texts, chosen, strict=True) for _ in range(n) if t.source is not None]
        if source is not None:
            cells.append(source)
        if len({len(c) for c in cells}) > 1:
            continue
        date = np.ones(size)
        for t, (_, n) in zip(texts, chosen, strict=True):
            date = date * delivered(t.made) ** n
        if not date.any():
            continue
        if cells:
            original, replaced = group.sources.weigh(cells)
        else:
            original, replaced = np.ones(size), 1.0
        yield date, original, replaced
