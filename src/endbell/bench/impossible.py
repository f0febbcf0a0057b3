"""Readings that no amp gives, and what they probably were: swapped probes, a wrong unit, a slip."""

from __future__ import annotations

from .lines import LineKind
from .telling import cannot_be, shown

_SLIPS = (1e-3, 1e-6, 1e3, 1e6)


def why_impossible(kind: LineKind, value: float, typed: str) -> str:
    """Why ``value`` (in the kind's unit) can't be a reading of ``kind``, and what it probably was;
    '' where it can.

    ``typed``: as it was written.
    """
    plain = cannot_be(kind, value)
    if not plain:
        return ""
    guess = _probably(kind, value)
    if not guess:
        return plain
    span = f"{shown(kind.lowest, kind.unit)} to {shown(kind.highest, kind.unit)}"
    return f'{kind.title}: "{typed}" cannot be ({span} is possible); {guess}.'


def _probably(kind: LineKind, value: float) -> str:
    if value < 0 <= kind.lowest and _possible(kind, -value):
        other = shown(-value, kind.unit)
        return (
            f"the probes were probably swapped, which would make it {other}: measure again, "
            "red to the point and black to the chassis"
        )
    for slip in _SLIPS:
        if value != 0 and _possible(kind, value * slip):
            meant = shown(value * slip, kind.unit)
            return f"the unit is probably off by {_factor(slip)}, which would make it {meant}"
    return ""


def _possible(kind: LineKind, value: float) -> bool:
    return kind.lowest <= value <= kind.highest


def _factor(slip: float) -> str:
    return "1,000,000" if slip in (1e-6, 1e6) else "1,000"
