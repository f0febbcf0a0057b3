"""Which parts an amp is drawn with: what its model left with, what was recorded, one more."""

from __future__ import annotations

from collections.abc import Iterable

from ..dossier.parts import known_part, stem_of
from ..dossier.types import Part
from ..reference.types import ExpectedPart, Model, Reference

MANY = ("potentiometer", "loudspeaker", "capacitor", "electrolytic", "valve", "paper")
"""Classes of which an amp has several: their usual ids bear numbers ('pot-1', 'pot-2')."""

OPEN_ENDED = "papers"
"""The assembly to which something can always be added, whatever the model left with."""


def model_of(name: str | None, reference: Reference) -> Model | None:
    """The model of that id that the packs in force know, or None."""
    return next((m for m in reference.models if m.id == name), None)


def parts_of(
    model: Model | None,
    reference: Reference,
    recorded: Iterable[str] = (),
    own: Iterable[Part] = (),
) -> tuple[ExpectedPart, ...]:
    """The parts to draw, each id once.

    ``recorded``: ids that marks and repairs name; ``own``: parts that the dossier describes.
    Without a model these are the usual ids of the packs, and of what comes in numbers one more
    than there is yet.
    """
    described = {part.id: part for part in own}
    named = list(dict.fromkeys((*described, *recorded)))
    found: dict[str, ExpectedPart] = {}
    if model is not None:
        for part in model.expected:
            found.setdefault(part.id, part)
    for part_id in named:
        if part_id not in found or part_id in described:
            expected = found.get(part_id)
            found[part_id] = _recorded(part_id, described.get(part_id), expected, reference)
    for usual in reference.usual_ids.values():
        if model is not None and usual.assembly != OPEN_ENDED:
            continue
        part_id = usual.id
        if usual.part_class in MANY:
            part_id = next_id(usual.id, found)
        if part_id not in found:
            found[part_id] = ExpectedPart(part_id, usual.part_class, usual.assembly)
    return tuple(found.values())


def next_id(stem: str, taken: Iterable[str]) -> str:
    """The next free id of a stem.

    >>> next_id("pot", ["pot-1", "pot-3", "ot"])
    'pot-4'
    """
    numbers = [_number(part) for part in taken if stem_of(part) == stem]
    return f"{stem}-{max(numbers, default=0) + 1}"


def _number(part_id: str) -> int:
    tail = part_id.rpartition("-")[2]
    return int(tail) if tail.isascii() and tail.isdigit() and stem_of(part_id) != part_id else 0


def _recorded(
    part_id: str, own: Part | None, expected: ExpectedPart | None, reference: Reference
) -> ExpectedPart:
    part = own or known_part(part_id, reference) or Part(part_id, "", "")
    kinds, place = (expected.kinds, expected.place) if expected else ((), "")
    return ExpectedPart(part_id, part.part_class, part.assembly, kinds, place)
