"""When two dossiers teach the same: all that is weighed of them is equal."""

from __future__ import annotations

import hashlib
from collections import Counter

from ...dossier.types import Dossier, Mark

FEW = 6
"""Parts of a class in an assembly up to which their order can't matter; docs/model.md, 6."""


def pattern(dossier: Dossier) -> bytes:
    """16 bytes, equal for dossiers of one pattern.

    Names, notes, places, photos, days, the purpose and the claim have no part in it; nor has the
    order of the parts, except where a class has so many that the engine goes by it.
    """
    repairs = {r.part: (str(r.first), str(r.last)) for r in dossier.repairs if r.replaced}
    marks: dict[str, list[tuple[str, ...]]] = {}
    for mark in dossier.marks:
        marks.setdefault(mark.part, []).append(_seen(mark))
    parts = [
        (p.assembly, p.part_class, tuple(sorted(marks.get(p.id, []))), repairs.get(p.id))
        for p in dossier.parts
    ]
    alike = Counter((assembly, part_class) for assembly, part_class, _, _ in parts)
    if max(alike.values(), default=0) <= FEW:
        parts.sort(key=repr)
    made = tuple(str(day) for day in dossier.made or ())
    whole = (dossier.packs, str(dossier.as_of), made, parts)
    return hashlib.blake2b(repr(whole).encode("utf-8", "surrogatepass"), digest_size=16).digest()


def _seen(m: Mark) -> tuple[str, ...]:
    what = (m.kind, m.text, m.legibility, m.result, m.feature, m.value)
    return tuple(str(x) for x in (*what, m.quantity, m.unit, m.uncertainty, m.date))
