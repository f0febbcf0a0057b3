"""Which parts left the factory with the amp, and which came in one delivery."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from ..dossier.types import Part
from ..reference.types import PartWord
from .joint import Joint
from .time import Array
from .units import DatedUnit, Unit
from .verdict import DeliveryVerdict, PartVerdict

LINKED = 0.5


def word_for(p: float, table: Sequence[PartWord]) -> str:
    """The word of a part by P(original): the first row of the table that holds it."""
    p = round(p, 12)  # a prior that nothing moved stays on its side of a threshold
    for row in table:
        if row.low <= p <= row.high:
            return row.word
    return "cannot tell"


def part_verdicts(joint: Joint, parts: Sequence[Part]) -> tuple[PartVerdict, ...]:
    """P of each origin for every part, in the dossier's order.

    In the branch where an assembly is another amp's, its parts are later replacements here (or stay
    period ones): they did not leave the factory with this amp.
    """
    found: dict[str, tuple[float, float, float]] = {}
    for unit in joint.units:
        for part in unit.parts:
            own = joint.shares(unit, _origins_of(part))
            married = unit.assembly in joint.marriages
            other = joint.donor_shares(unit, _origins_of(part)) if married else [0.0] * 3
            p_original, p_period = own[0], own[2] + other[2]
            p_later = own[1] + other[1] + other[0]
            whole = p_original + p_period + p_later
            found[part] = (p_original / whole, p_period / whole, p_later / whole)
    table = joint.setting.reference.part_words
    out: list[PartVerdict] = []
    for p in parts:
        if p.id in found:
            o, period, later = found[p.id]
            out.append(
                PartVerdict(p.id, p.part_class, p.assembly, o, period, later, word_for(o, table))
            )
    return tuple(out)


def words_of(joint: Joint) -> dict[str, str]:
    """The word of every part: what stability is judged by, without the finer account."""
    table = joint.setting.reference.part_words
    out: dict[str, str] = {}
    for unit in joint.units:
        known: dict[int, str] = {}  # parts that are alike share one array
        for part in unit.parts:
            values = joint.active_units[unit].original(part)
            if id(values) not in known:
                p = joint.shares(unit, lambda _u, v=values: (v,))[0]
                known[id(values)] = word_for(min(p, 1.0), table)
            out[part] = known[id(values)]
    return out


def _origins_of(part: str) -> Callable[[Unit], Sequence[Array]]:
    return lambda unit: unit.origins(part)


def delivery_verdicts(joint: Joint) -> tuple[DeliveryVerdict, ...]:
    """Parts that came in one delivery: chains of pairs more likely together than not."""
    out: list[DeliveryVerdict] = []
    for unit in joint.units:
        if isinstance(unit, DatedUnit) and len(unit.parts) > 1:
            out.extend(
                DeliveryVerdict(
                    group,
                    _together(joint, unit, group),
                    joint.shares(unit, lambda u, g=group: (u.all_original(g),))[0],
                )
                for group in _linked(joint, unit)
            )
    return tuple(out)


def _linked(joint: Joint, unit: DatedUnit) -> list[tuple[str, ...]]:
    parts = unit.parts
    group = list(range(len(parts)))
    known: dict[tuple[int, int], float] = {}
    for i in range(len(parts)):
        for j in range(i + 1, len(parts)):
            kinds = (unit.place[parts[i]], unit.place[parts[j]])
            if kinds not in known:
                known[kinds] = _together(joint, unit, (parts[i], parts[j]))
            if known[kinds] > LINKED:
                group = [group[i] if g == group[j] else g for g in group]
    sets = [
        tuple(p for p, g in zip(parts, group, strict=True) if g == k) for k in dict.fromkeys(group)
    ]
    return [s for s in sets if len(s) > 1]


def _together(joint: Joint, unit: DatedUnit, parts: Sequence[str]) -> float:
    """P(all in one delivery), whether this amp's or a later repair's."""

    def ask(u: Unit) -> Sequence[Array]:
        assert isinstance(u, DatedUnit)
        found = u.together(parts)
        return (np.zeros_like(u.values) if found is None else found,)

    other = joint.donor_shares(unit, ask)[0] if unit.assembly in joint.marriages else 0.0
    return joint.shares(unit, ask)[0] + other
