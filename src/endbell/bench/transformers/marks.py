"""Bench readings as marks of the dossier: what was measured of a transformer weighs in the verdict.

A pack that knows a quantity (``ot-ratio``, with its catalogued alternatives) gets it as a mark of
kind 'measured'; the chronology does the rest.  Which line gives which quantity stands in
``data/transformers/quantities.csv``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ...reference.types import Quantity, Reference
from ..circuit import Winding
from ..facts import Fact, facts
from ..readings import Bench
from .identity import Candidate, Expected, Likelihood, Measured, likelihoods
from .reading import Got, henry_of, ohm_of, ratio_of, rule

_GET = {"winding-ratio": ratio_of, "winding-ohm": ohm_of, "winding-inductance": henry_of}
_UNITS = {"winding-ratio": "1", "winding-ohm": "ohm", "winding-inductance": "H"}


@dataclass(frozen=True, slots=True)
class MeasuredMark:
    """A ``[[mark]]`` of kind 'measured': ``value`` and ``uncertainty`` (one standard deviation) in
    ``unit``, which the pack knows; ``readings``: numbers of the sheet's readings behind it.
    """

    part: str
    quantity: str
    value: float
    unit: str
    uncertainty: float
    note: str
    readings: tuple[int, ...] = ()


def measured_marks(bench: Bench, reference: Reference) -> tuple[MeasuredMark, ...]:
    """Every quantity that the packs in force know and the sheet has readings for.

    Readings that cannot be, and quantities in a unit the bench does not measure, give no mark.
    """
    found: list[MeasuredMark] = []
    for row in facts("transformers", "quantities"):
        quantity = reference.quantities.get(row["quantity"])
        winding = _winding(bench, row)
        if quantity is None or winding is None:
            continue
        got = _GET[row["line"]](bench, winding.id)
        unit = _unit(reference, quantity, _UNITS[row["line"]])
        if got is None or got.value is None or unit is None:
            continue
        found.append(_mark(row, winding, got, unit))
    return tuple(found)


def _winding(bench: Bench, row: Fact) -> Winding | None:
    """The winding a quantity is measured at: of several taps, that of the nominal load."""
    fitting = [
        w
        for w in bench.circuit.windings
        if w.part == row["part"] and (not row["use"] or w.use in row["use"].split(";"))
    ]
    nominal = [w for w in fitting if w.load_ohm and w.load_ohm == bench.circuit.load_ohm]
    return next(iter(nominal or fitting), None)


def _unit(reference: Reference, quantity: Quantity, unit: str) -> str | None:
    words = reference.tables.quantities.get(quantity.id)
    if unit == "1":
        return quantity.unit  # a bare number, whatever the pack calls it
    known = {quantity.unit, *(words.factors if words else ())}
    return unit if unit in known else None


def _mark(row: Fact, winding: Winding, got: Got, unit: str) -> MeasuredMark:
    numbers = tuple(dict.fromkeys(reading.n for reading in got.readings))
    cited = ", ".join(str(n) for n in numbers)
    note = f"bench, {winding.id}: {got.works} (reading {cited})"
    return MeasuredMark(
        row["part"],
        row["quantity"],
        _figures(got.value or 0.0),
        unit,
        _figures(got.spread),
        note,
        numbers,
    )


def _figures(value: float) -> float:
    """Nine significant digits, as everywhere that numbers leave."""
    return float(f"{value:.9g}")


def mark_rows(marks: Sequence[MeasuredMark]) -> list[dict[str, str | float]]:
    """The marks as tables of a dossier: the keys of ``[[mark]]``."""
    return [
        {
            "part": mark.part,
            "kind": "measured",
            "quantity": mark.quantity,
            "value": mark.value,
            "unit": mark.unit,
            "uncertainty": mark.uncertainty,
            "note": mark.note,
        }
        for mark in marks
    ]


def as_toml(marks: Sequence[MeasuredMark]) -> str:
    """The marks as ``[[mark]]`` tables, ready to stand at the end of a dossier."""
    tables = [
        "\n".join(["[[mark]]", *(f"{key} = {_toml(value)}" for key, value in row.items())])
        for row in mark_rows(marks)
    ]
    return "\n\n".join(tables) + ("\n" if tables else "")


def _toml(value: str | float) -> str:
    if not isinstance(value, str):
        text = repr(float(value))
        return text
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def shares(
    marks: Sequence[MeasuredMark], quantities: Mapping[str, Quantity]
) -> Mapping[str, tuple[Likelihood, ...]]:
    """For every quantity measured: how likely each catalogued alternative is by that reading alone.

    All alike before, in the pack's unit; when each was fitted is for the verdict to weigh.  Marks
    in another unit than the pack's are left out.
    """
    found: dict[str, tuple[Likelihood, ...]] = {}
    for mark in marks:
        quantity = quantities.get(mark.quantity)
        if quantity is None or quantity.unit != mark.unit:
            continue
        candidates = [
            Candidate(row.value, {mark.quantity: Expected(row.mean, row.sd)})
            for row in quantity.alternatives
        ]
        reading = Measured(mark.quantity, mark.value, mark.uncertainty)
        found[mark.quantity] = likelihoods([reading], candidates, rule("identity-leak"))
    return found
