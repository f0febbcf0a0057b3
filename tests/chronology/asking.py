"""The quick part of a weighing: the date's distribution without the rest of the verdict."""

from __future__ import annotations

from collections.abc import Sequence

from endbell.chronology.weighing import posterior
from endbell.chronology.workspace import Workspace
from endbell.dossier import Dossier
from endbell.reference import Reference

from .amp import Array


def date_of(
    dossier: Dossier,
    reference: Reference,
    workspace: Workspace | None = None,
    *,
    models: Sequence[str] | None = None,
) -> Array:
    """p(B) by week."""
    found = posterior(dossier, reference, models=models, workspace=workspace)
    return found.joint.by_week
