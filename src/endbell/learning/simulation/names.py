"""Loudspeakers' names: which of the packs' values can stand as a name that its scheme reads."""

from __future__ import annotations

import re

from ...marks.tables import DesignationScheme
from ...reference.types import Reference

DESIGNATION = "loudspeaker-designation"
"""The feature that a loudspeaker's name is."""


def readable(reference: Reference) -> frozenset[str]:
    """The loudspeaker names of the packs that their schemes can read."""
    feature = reference.features.get(DESIGNATION)
    values = [v.value for v in feature.values] if feature else []
    schemes = reference.tables.designations
    return frozenset(v for v in values if any(_reads(s, v) for s in schemes) and v == v.upper())


def _reads(scheme: DesignationScheme, name: str) -> bool:
    found = re.fullmatch(scheme.pattern, name, re.IGNORECASE)
    if found is None:
        return False
    power = found.groupdict().get("power")
    return power is None or power.upper() in scheme.powers.upper()
