"""Measured quantities: a number, its unit and its uncertainty, converted once."""

from __future__ import annotations

from math import isfinite

from .outcome import alike, few, misfit, settled, shown
from .tables import Tables
from .types import MarkReading, Seen

KIND = "measured"
WORDS = "a measured quantity with its unit and uncertainty"


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a measurement: ``dating`` is 'measured', the numbers are in the pack's unit.

    ``uncertainty`` is one standard deviation, 0 where none was given.  Misfit: an unknown quantity
    or unit, a value that is no finite number, an uncertainty below zero.

    >>> from endbell.marks.tables import CodeGrammar, LetterDates, QuantityWords
    >>> pitch = QuantityWords("weave-pitch", "mm", {"mm": 1.0, "in": 25.4})
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}), quantities={pitch.id: pitch})
    >>> read(Seen(KIND, quantity="weave-pitch", value=0.1, unit="in"), tables).number
    2.54
    """
    early = settled(seen, needs_text=False)
    if early:
        return early
    words = tables.quantities.get(seen.quantity or "")
    if words is None:
        found = f"quantity {shown(seen.quantity)}" if seen.quantity else "no quantity named"
        known = list(tables.quantities)
        nearest = alike(seen.quantity or "", known)
        return misfit(seen, found, few(known) or "a pack with quantities", nearest)
    unit = words.unit if seen.unit is None else seen.unit.strip()
    factor = 1.0 if unit == words.unit else words.factors.get(unit)
    if factor is None:
        units = list(dict.fromkeys((words.unit, *words.factors)))
        return misfit(seen, f"unit {shown(unit)}", few(units, 20))
    number = _number(seen.text if seen.value is None else seen.value)
    if number is None or not isfinite(number * factor):
        found = shown(str(seen.text if seen.value is None else seen.value))
        return misfit(seen, f"value {found}", f"a number in {unit}")
    spread = _number(0.0 if seen.uncertainty is None else seen.uncertainty)
    if spread is None or spread < 0 or not isfinite(spread * abs(factor)):
        found = f"uncertainty {shown(str(seen.uncertainty))}"
        return misfit(seen, found, f"a number of {unit}, zero or more")
    return MarkReading(
        seen.kind,
        seen.text,
        seen.legibility,
        "measured",
        number=number * factor,
        uncertainty=spread * abs(factor),
    )


def _number(given: str | float) -> float | None:
    if isinstance(given, bool):
        return None
    try:
        number = float(given)
    except (ValueError, OverflowError):
        return None
    return number if isfinite(number) else None
