"""What each mark did to the result: exact leave-one-out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from .evidence import amp_units, part_units, present, without
from .factors import PartEvidence, is_dated
from .joint import Joint
from .setting import Setting
from .time import Array
from .units import DatedUnit, Unit, unit_of


def without_mark(joint: Joint, evidence: Sequence[PartEvidence], n: int) -> tuple[Array, float]:
    """p(B) as if mark n had not been made, and the change in log evidence; shape (size,)."""
    old, new = _exchange(joint, evidence, n)
    amp_old = [u for u in joint.units if not u.parts]
    amp_new = list(amp_units(without(evidence, n), joint.setting))
    if not _changed([joint.whole_of(u) for u in amp_old], amp_new):
        return joint.replaced_by(old, new)
    if any(joint.setting.married(u.assembly) > 0.0 for u in (*old, *new)):
        return joint.afresh([*old, *amp_old], [*new, *amp_new])
    return joint.replaced_by([*old, *amp_old], [*new, *amp_new])


def log_surprise(joint: Joint, evidence: Sequence[PartEvidence], n: int, change: float) -> float:
    """ln evidence without mark n, its part still on record, minus with it.

    A mark's surprise is about what it says, not about the part being there.  ``change``: that of
    :func:`without_mark`, which is the same unless the part goes off the record with its mark.
    """
    remaining = without(evidence, n)
    before, after = present(evidence, joint.setting), present(remaining, joint.setting)
    if (before is None and after is None) or (
        before is not None and after is not None and np.array_equal(before, after)
    ):
        return change
    papers = [u for u in joint.units if not u.parts and n in u.marks]
    old, new = ([*papers], []) if papers else _exchange(joint, evidence, n)
    return joint.replaced_by(old, new)[1]


def _exchange(
    joint: Joint, evidence: Sequence[PartEvidence], n: int
) -> tuple[list[Unit], list[Unit]]:
    """The units that hold mark n, or share a class with its part, and those in their place."""
    holder = next(e for e in evidence if any(mark.n == n for mark, _ in e.read))
    same = {
        e.part.id
        for e in evidence
        if (e.part.assembly, e.part.part_class) == (holder.part.assembly, holder.part.part_class)
    }
    held = unit_of(holder.part.id, joint.units)
    linked = set(held.parts) | (same if isinstance(held, DatedUnit) else set[str]())
    linked |= _rejoined(joint, evidence, holder, n)
    old = [u for u in joint.units if any(p in linked for p in u.parts)]
    linked |= {p for u in old for p in u.parts}
    rest = without([e for e in evidence if e.part.id in linked], n)
    return old, list(part_units(rest, joint.setting))


def _rejoined(
    joint: Joint, evidence: Sequence[PartEvidence], holder: PartEvidence, n: int
) -> set[str]:
    """Parts whose features the holder's will be summed with, once nothing dates it any more."""
    setting = joint.setting
    left = without([holder], n)[0]
    if not is_dated(holder, setting) or is_dated(left, setting):
        return set()
    groups = set(_groups(left, setting))
    return {
        e.part.id
        for e in evidence
        if e.part.assembly == holder.part.assembly and groups.intersection(_groups(e, setting))
    }


def _groups(e: PartEvidence, setting: Setting) -> Iterator[str]:
    for mark, reading in e.read:
        feature = setting.reference.features.get(mark.feature or "")
        if (
            mark.kind == "feature"
            and feature is not None
            and reading.dating == "value"
            and feature.group
        ):
            yield feature.group


def _changed(old: Sequence[Unit], new: Sequence[Unit]) -> bool:
    return len(old) != len(new) or any(
        not np.array_equal(a.values, b.values) for a, b in zip(old, new, strict=True)
    )


def information(p: Array, q: Array) -> float:
    """KL(p || q) in bits. Weeks where q is nothing carry less than 1e-14 of p and count nothing."""
    held = (p > 0) & (q > 0)
    return max(float((p[held] * np.log2(p[held] / q[held])).sum()), 0.0)
