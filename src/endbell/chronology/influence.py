"""What each mark did to the result: exact leave-one-out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .evidence import PartEvidence, amp_units, part_units, without
from .joint import Joint
from .time import Array


def without_mark(joint: Joint, evidence: Sequence[PartEvidence], n: int) -> tuple[Array, float]:
    """p(B) as if mark n had not been made, and the change in log evidence; shape (size,)."""
    holder = next(e for e in evidence if any(mark.n == n for mark, _ in e.read))
    old = [u for u in joint.units if holder.part.id in u.parts]
    amp_old = [u for u in joint.units if not u.parts]
    linked = {p for u in old for p in u.parts}
    rest = without([e for e in evidence if e.part.id in linked], n)
    new = list(part_units(rest, joint.setting))
    amp_new = list(amp_units(without(evidence, n), joint.setting))
    changed = _changed(amp_old, amp_new)
    assembly = holder.part.assembly
    if changed and joint.setting.married(assembly) > 0.0:
        kept = [u for u in joint.units if u not in old and u not in amp_old]
        fresh = Joint([*kept, *amp_new, *new], joint.setting)
        return fresh.by_week, fresh.log_evidence - joint.log_evidence
    if changed:
        return joint.replaced_by([*old, *amp_old], [*new, *amp_new])
    return joint.replaced_by(old, new)


def _changed(old: Sequence[object], new: Sequence[object]) -> bool:
    a = [getattr(u, "values") for u in old]
    b = [getattr(u, "values") for u in new]
    return len(a) != len(b) or any(x.shape != y.shape or not np.array_equal(x, y) for x, y in zip(a, b, strict=True))


def information(p: Array, q: Array) -> float:
    """KL(p || q) in bits; weeks where p is nothing count nothing."""
    held = p > 0
    with np.errstate(divide="ignore"):
        return max(float((p[held] * np.log2(p[held] / q[held])).sum()), 0.0)
