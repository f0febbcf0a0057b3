"""Next checks when some looks can't be made: the others move up, and new ones come into view."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from ..chronology import Verdict, Workspace, weigh
from ..chronology.verdict import NextCheck
from ..dossier.parts import known_part
from ..dossier.types import Dossier, Mark, Part
from ..reference.types import Reference

Answered = tuple[tuple[str, str], ...]
"""Looks that were said not to be possible: id of the check, id of the part."""


def next_without(
    answered: Answered,
    dossier: Dossier,
    verdict: Verdict,
    reference: Reference,
    workspace: Workspace,
) -> tuple[tuple[NextCheck, ...], str]:
    """The checks and the sentence as if the looks of ``answered`` had been made in vain.

    A look in vain says nothing, so every number but the list of checks stays what it was; minutes
    to get to a level are those of before, since nobody has got there.
    """
    vain = tuple(_in_vain(answered, dossier, reference))
    if not vain:
        return verdict.next, verdict.next_says
    parts = _with_parts({mark.part for mark in vain}, dossier, verdict, reference)
    tried = replace(dossier, parts=parts, marks=(*dossier.marks, *vain))
    other = weigh(tried, reference, looks=2, workspace=workspace)
    setup = {check.level: check.setup_minutes for check in verdict.next}
    found = tuple(
        replace(check, setup_minutes=setup.get(check.level, check.setup_minutes))
        for check in other.next
        if (check.check, check.part) not in answered
    )
    return found, "" if found else other.next_says


def _in_vain(answered: Answered, dossier: Dossier, reference: Reference) -> Iterable[Mark]:
    """Marks that stand for the looks, after all others."""
    kinds = {check.id: check.kind for check in reference.checks}
    n = max((mark.n for mark in dossier.marks), default=0)
    for check, part in answered:
        n += 1
        if check in kinds:
            yield Mark(n, part, kinds[check], result="not-possible")
        elif check in reference.features:
            yield Mark(n, part, "feature", result="not-possible", feature=check)
        elif check in reference.quantities:
            yield Mark(n, part, "measured", result="not-possible", quantity=check)


def _with_parts(
    named: set[str], dossier: Dossier, verdict: Verdict, reference: Reference
) -> tuple[Part, ...]:
    """The dossier's parts and the missing ones of ``named``, as the likeliest model has them."""
    parts = {part.id: part for part in dossier.parts}
    best = max(verdict.models, key=lambda odds: odds.p).model if verdict.models else ""
    expected = {
        part.id: Part(part.id, part.part_class, part.assembly)
        for model in reference.models
        if model.id == best
        for part in model.expected
    }
    for part in sorted(named - set(parts)):
        found = expected.get(part) or known_part(part, reference)
        if found is not None:
            parts[part] = found
    return tuple(parts.values())
