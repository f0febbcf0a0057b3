"""Which part an id stands for: the dossier's own parts, the usual ids, what a model should have."""

from __future__ import annotations

import re

from ..reference.types import Reference
from .types import Part

_NUMBERED = re.compile(r"(?P<stem>.+)-[0-9]{1,3}")

AMP_LEVEL = "other"
"""Class of a mark on a whole assembly ('reverb', 'papers') where no usual id says more."""


def known_part(part_id: str, reference: Reference) -> Part | None:
    """The part that ``part_id`` means without any ``[[part]]``, or None.

    Usual ids come first ('ot', 'pot-3'), then parts that a model of the packs should have, classes
    ('electrolytic-1'), and last the assemblies themselves ('cabinet', 'papers'), so that a receipt
    can lie on the cabinet.
    """
    stem = stem_of(part_id)
    for candidate in (part_id, stem):
        usual = reference.usual_ids.get(candidate)
        if usual is not None:
            return Part(part_id, usual.part_class, usual.assembly)
    for model in reference.models:
        for expected in model.expected:
            if expected.id == part_id:
                return Part(part_id, expected.part_class, expected.assembly)
    if stem in reference.classes:  # 'electrolytic-1': the class itself with a number
        for usual in reference.usual_ids.values():
            if usual.part_class == stem:
                return Part(part_id, stem, usual.assembly)
    if part_id in reference.assemblies:
        return Part(part_id, _class_of_assembly(part_id, reference), part_id)
    return None


def stem_of(part_id: str) -> str:
    """'pot-3' -> 'pot'; an id without a number is its own stem."""
    found = _NUMBERED.fullmatch(part_id)
    return found["stem"] if found else part_id


def known_ids(reference: Reference) -> tuple[str, ...]:
    """Every id that needs no ``[[part]]``, for offering the nearest ones."""
    expected = (part.id for model in reference.models for part in model.expected)
    return tuple(dict.fromkeys((*reference.usual_ids, *expected, *reference.assemblies)))


def _class_of_assembly(assembly: str, reference: Reference) -> str:
    if assembly in reference.classes:
        return assembly
    # 'papers' holds only papers, 'speakers' only loudspeakers
    classes = {u.part_class for u in reference.usual_ids.values() if u.assembly == assembly}
    return classes.pop() if len(classes) == 1 else AMP_LEVEL
