"""The verdict in brief: what a long list needs of each amp, without the work of explaining it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..dossier.types import Dossier, Problem
from ..reference.types import Reference
from .allright import conflict_sets
from .claim import claim_verdict
from .origins import part_verdicts
from .sets import build_date
from .verdict import BuildDate, ClaimVerdict, ModelOdds, PartVerdict
from .weeks import week_label
from .weighing import NothingPossible, posterior
from .workspace import Workspace


@dataclass(frozen=True, slots=True)
class Brief:
    """Build date, origins, marriages and claim of one dossier; the same numbers as its verdict.

    ``assemblies``: P(married) by assembly.  ``weighed``: how many marks had their say.
    ``conflicts``: how many sets of marks can't all be right; None where they were not counted.
    """

    dossier: str
    file: str
    as_of: str
    build: BuildDate
    log_evidence: float
    models: tuple[ModelOdds, ...]
    parts: tuple[PartVerdict, ...]
    assemblies: Mapping[str, float]
    claim: ClaimVerdict | None
    weighed: int
    not_weighed: tuple[Problem, ...]
    conflicts: int | None = None


def brief(
    dossier: Dossier,
    reference: Reference,
    assume: Mapping[str, float] | None = None,
    *,
    models: Sequence[str] | None = None,
    workspace: Workspace | None = None,
    count_conflicts: bool = False,
) -> Brief:
    """Weigh a dossier without influence, conflicts, stability, next checks and words.

    Takes and raises what :func:`endbell.chronology.weigh` does; every number is the same as there.
    ``workspace``: pass one along when many dossiers of the same packs are weighed.
    ``count_conflicts``: a fifth more work.
    """
    post = posterior(dossier, reference, assume, models=models, workspace=workspace, slack=0.0)
    joint, setting = post.joint, post.setting
    if not np.isfinite(joint.log_evidence):
        raise NothingPossible("no week fits all marks at once: look for a mark dated after as_of")
    parts = part_verdicts(joint, dossier.parts)
    odds = zip(setting.names, joint.by_model, strict=True)
    return Brief(
        dossier=dossier.id,
        file=dossier.file,
        as_of=week_label(setting.grid.size - 1),
        build=build_date(joint.by_week, setting.grid),
        log_evidence=joint.log_evidence,
        models=tuple(
            sorted((ModelOdds(n, float(p)) for n, p in odds if n), key=lambda m: (-m.p, m.model))
        ),
        parts=parts,
        assemblies={name: joint.married(name) for name in joint.marriages},
        claim=claim_verdict(dossier, joint, parts),
        weighed=sum(len(e.read) for e in post.evidence),
        not_weighed=(*dossier.problems, *post.problems),
        conflicts=len(conflict_sets(joint, post.evidence)) if count_conflicts else None,
    )
