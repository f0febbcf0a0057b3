"""How the claim stands: each clause, and all of them together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..dossier.types import Dossier, Part
from ..reference.types import Reference
from .joint import Joint
from .verdict import ClaimVerdict, Clause, PartVerdict

EVERYTHING = "everything"


def named_parts(
    words: Sequence[str], parts: Sequence[Part], reference: Reference
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The parts that a claim's words name (ids, classes, plurals, assemblies, 'everything').

    Returns part ids in the dossier's order, and the words that named nothing.
    """
    chosen: set[str] = set()
    lost: list[str] = []
    for word in words:
        hit = {p.id for p in parts if _names(word, p, reference)}
        known = (
            any(word in (c.id, c.plural, *c.words) for c in reference.classes.values())
            or word in reference.assemblies
            or word == EVERYTHING
            or word in reference.usual_ids
        )
        if not hit and not known:
            lost.append(word)
        chosen |= hit
    return tuple(p.id for p in parts if p.id in chosen), tuple(lost)


def _names(word: str, part: Part, reference: Reference) -> bool:
    if word in (EVERYTHING, part.id, part.part_class, part.assembly):
        return True
    known = reference.classes.get(part.part_class)
    if known is not None and word in (known.plural, *known.words):
        return True
    stem, _, number = part.id.rpartition("-")
    return bool(stem) and number.isdigit() and word == stem


def claimed_parts(dossier: Dossier, joint: Joint) -> tuple[str, ...]:
    """The recorded parts that the claim says are original (the chassis is the amp itself)."""
    reference = joint.setting.reference
    held = {p for u in joint.units for p in u.parts}
    parts = [
        p
        for p in dossier.parts
        if p.id in held and p.part_class != "chassis" and p.assembly != "papers"
    ]
    said, _ = named_parts(dossier.claim.original, parts, reference)
    barred, _ = named_parts(dossier.claim.excluded, parts, reference)
    return tuple(p for p in said if p not in barred)


def claim_weeks(dossier: Dossier, joint: Joint) -> np.ndarray | None:
    """Weeks (bool) of the claimed date, None if none is claimed."""
    claim = dossier.claim
    if claim.built_from is None and claim.built_to is None:
        return None
    return joint.setting.grid.indicator(claim.built_from, claim.built_to) > 0


def claim_models(dossier: Dossier, joint: Joint) -> np.ndarray | None:
    """Rivals (bool) that the claim names, None if it names none that a pack knows."""
    if dossier.claim.model is None or dossier.claim.model not in joint.setting.names:
        return None
    return np.array([name == dossier.claim.model for name in joint.setting.names])


def claim_verdict(
    dossier: Dossier, joint: Joint, parts: Sequence[PartVerdict]
) -> ClaimVerdict | None:
    """Every clause with its probability, the joint, the weakest clause, what was not looked at."""
    claim = dossier.claim
    weeks, models = claim_weeks(dossier, joint), claim_models(dossier, joint)
    claimed = claimed_parts(dossier, joint)
    clauses: list[Clause] = []
    unjudged: list[str] = []
    if weeks is not None:
        p = joint.by_week[weeks].sum()
        clauses.append(Clause(f"built {claim.built}", min(float(p), 1.0)))
    if models is not None:
        clauses.append(Clause(f"model {claim.model}", float(joint.by_model[models].sum())))
    elif claim.model is not None:
        unjudged.append(f"model {claim.model}: no pack in force describes it")
    by_part = {p.part: p.original for p in parts}
    clauses.extend(Clause(f"{part} original", by_part[part]) for part in claimed)
    for words in (claim.original, claim.excluded):
        unjudged.extend(
            f"'{w}' names no part or class"
            for w in named_parts(words, dossier.parts, joint.setting.reference)[1]
        )
    if not clauses and not unjudged:
        return None
    p = joint.expect(joint.conditional(claimed), weeks, models) if clauses else None
    judged = [c for c in clauses if c.p is not None]
    weakest = min(judged, key=lambda c: c.p or 0.0).clause if judged else None
    return ClaimVerdict(
        None if p is None else min(p, 1.0),
        tuple(clauses),
        weakest,
        _not_looked_at(dossier, joint),
        tuple(unjudged),
    )


def _not_looked_at(dossier: Dossier, joint: Joint) -> tuple[str, ...]:
    """Parts the claimed (else likeliest) model left with that nothing was recorded of, if
    claimed.
    """
    names = joint.setting.names
    wanted = (
        dossier.claim.model
        if dossier.claim.model in names
        else names[int(np.argmax(joint.by_model))]
    )
    model = next((m for m in joint.setting.models if m is not None and m.id == wanted), None)
    if model is None or not dossier.claim.original:
        return ()
    recorded = {m.part for m in dossier.marks}
    missing = [Part(e.id, e.part_class, e.assembly) for e in model.expected if e.id not in recorded]
    reference = joint.setting.reference
    said, _ = named_parts(dossier.claim.original, missing, reference)
    barred, _ = named_parts(dossier.claim.excluded, missing, reference)
    return tuple(p for p in said if p not in barred)
