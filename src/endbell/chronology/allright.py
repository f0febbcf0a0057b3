"""Sets of marks that can't all be right: the smallest sets whose parts are hardly all original."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from ..dossier.types import Mark
from ..marks import MarkReading, Split
from .evidence import part_units
from .factors import PartEvidence, dates_part
from .joint import Joint
from .setting import Setting
from .time import Array, on_weeks
from .units import Unit, unit_of
from .verdict import ConflictSet

MOST_TRIPLES = 200
UNLIKE_PRIOR = 0.1
"""A set is only a conflict if the marks made it less likely than this share of its prior."""


def conflict_sets(joint: Joint, evidence: Sequence[PartEvidence]) -> tuple[ConflictSet, ...]:
    """Smallest sets (up to three parts) with P(all original, all texts read as typed) below the
    bar.

    Fewest marks first, then least likely first. A set counts one mark a part: the one that dates
    it.
    """
    setting = joint.setting
    bar = setting.assume["conflict.p_all_right"]
    held = [e for e in evidence if e.read and any(e.part.id in u.parts for u in joint.units)]
    named = {e.part.id: _telling(e, setting) for e in held}
    parts = [e.part.id for e in held if named[e.part.id] is not None]
    prior = {e.part.id: setting.origin_prior(e.part.part_class)[0] for e in held}
    by_id = {e.part.id: e for e in held}
    right = _Right(joint, by_id)
    single = {p: right.of((p,)) for p in parts}

    def odd(p: float, chosen: tuple[str, ...]) -> bool:
        return p < bar and p < UNLIKE_PRIOR * float(np.prod([prior[c] for c in chosen]))

    found: dict[tuple[str, ...], float] = {(p,): v for p, v in single.items() if odd(v, (p,))}
    rest = [p for p in parts if (p,) not in found]
    for size in (2, 3):
        doubtful = [
            chosen
            for chosen in combinations(rest, size)
            if sum(1 - single[p] for p in chosen) > 1 - bar
            and not any(pair in found for pair in combinations(chosen, 2))
        ]
        doubtful.sort(key=lambda chosen: (sum(single[p] for p in chosen), chosen))
        for chosen in doubtful[: MOST_TRIPLES if size == 3 else None]:
            p = right.of(chosen)
            if odd(p, chosen):
                found[chosen] = p
    ordered = sorted(found.items(), key=lambda f: (len(f[0]), f[1], f[0]))
    return tuple(_said(chosen, p, named) for chosen, p in ordered)


def _telling(e: PartEvidence, setting: Setting) -> Mark | None:
    """The mark that speaks for a part: one that dates it, else the first that weighs."""
    dating = [m for m, r in e.read if dates_part(m, r, e.part, setting)]
    weighing = [m for m, r in e.read if r.dating not in ("nothing", "existed", "nothing-found")]
    return next(iter((*dating, *weighing)), None)


class _Right:
    """P(parts original and their texts read as typed | everything), with each part's share kept."""

    def __init__(self, joint: Joint, by_id: Mapping[str, PartEvidence]) -> None:
        self.joint = joint
        self.by_id = by_id
        self._kept: dict[tuple[str, ...], Array] = {}

    def of(self, parts: tuple[str, ...]) -> float:
        """For one to three parts."""
        joint = self.joint
        units: dict[Unit, list[str]] = {}
        for p in parts:
            units.setdefault(unit_of(p, joint.units), []).append(p)
        factor: Array = np.ones((1, 1, 1))
        for unit, mine in units.items():
            factor = factor * self._ratio(unit, tuple(mine))
        for assembly in dict.fromkeys(u.assembly for u in units):
            b = joint.belongs(assembly)
            factor = factor * on_weeks(b, joint.active)
        return min(joint.expect(factor), 1.0)

    def _ratio(self, unit: Unit, mine: tuple[str, ...]) -> Array:
        if mine in self._kept:
            return self._kept[mine]
        joint = self.joint
        cut = joint.active_units[unit]
        right = cut
        if any(_unsure(r) for p in mine for _, r in self.by_id[p].read):
            typed = [
                _as_typed(self.by_id[p]) if p in mine else self.by_id[p]
                for p in unit.parts
                if p in self.by_id
            ]
            held = unit_of(mine[0], part_units(typed, joint.setting))
            right = held.on(joint.weeks[joint.active])
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = right.all_original(mine) / cut.values
        self._kept[mine] = np.where(cut.values > 0, ratio, 0.0)
        return self._kept[mine]


def _unsure(reading: MarkReading) -> bool:
    return reading.legibility != "clear" and bool(reading.splits)


def _as_typed(e: PartEvidence) -> PartEvidence:
    """The same part with every worn digit held to what was typed."""
    return replace(
        e,
        read=tuple(
            (m, replace(r, splits=tuple(_held(s) for s in r.splits)) if _unsure(r) else r)
            for m, r in e.read
        ),
    )


def _held(split: Split) -> Split:
    def hold(vector: tuple[float, ...]) -> tuple[float, ...]:
        top = max(vector)
        return tuple(v if v >= 0.5 * top else 0.0 for v in vector)

    return replace(
        split,
        source=tuple(hold(v) for v in split.source),
        year=tuple(hold(v) for v in split.year),
        week=tuple(hold(v) for v in split.week),
    )


def _said(chosen: tuple[str, ...], p: float, named: dict[str, Mark | None]) -> ConflictSet:
    marks = [m for part in chosen if (m := named[part]) is not None]
    names = " and ".join(f"mark {m.n} ({m.part})" for m in marks)
    if len(marks) == 1:
        says = f"{names} hardly fits an original part: the rest of the dossier speaks against it"
    else:
        says = f"{names} can hardly all be original and rightly read"
    return ConflictSet(tuple(m.n for m in marks), p, says)
