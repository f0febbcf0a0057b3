"""Places that readings name, against those the circuit has: a slip is said, a capital forgiven."""

from __future__ import annotations

from dataclasses import replace

from ..dossier.limits import visible
from ..dossier.types import Problem
from ..dossier.values import nearest_words
from .circuit import Circuit
from .lines import LineKind
from .readings import Reading


def known_places(circuit: Circuit, per: str) -> tuple[str, ...]:
    """The places a line 'per' valve, rail, winding … can be read at; empty where any will do."""
    match per:
        case "valve":
            return tuple(seat.at for seat in circuit.seats)
        case "rail":
            return tuple(rail.id for rail in circuit.rails)
        case "capacitor":
            return tuple(capacitor.id for capacitor in circuit.capacitors)
        case "resistor":
            return tuple(resistor.id for resistor in circuit.resistors)
        case "pot":
            return tuple(r.id for r in circuit.resistors if r.use.startswith("pot"))
        case "winding" | "tap":
            return tuple(winding.id for winding in circuit.windings)
        case "stage":
            return tuple(stage.id for stage in circuit.stages)
        case _:
            return ()


def placed(reading: Reading, kind: LineKind, circuit: Circuit) -> Reading:
    """The reading with its place spelt as the circuit spells it."""
    known = known_places(circuit, kind.per)
    name, at, rest = reading.at.partition("@")
    if name in known:
        return reading
    spelt = [place for place in known if place.casefold() == name.casefold()]
    return replace(reading, at=f"{spelt[0]}{at}{rest}") if len(spelt) == 1 else reading


def misplaced(reading: Reading, kind: LineKind, circuit: Circuit, file: str) -> Problem | None:
    """Why nothing stands at the place of a reading; None where something does."""
    known = known_places(circuit, kind.per)
    name = reading.at.partition("@")[0]
    if not known or name in known:
        return None
    found = (
        f'{reading.line}: the circuit has no {kind.per} "{visible(name)}"'
        if name
        else f"{reading.line}: no place; it is measured at each {kind.per}"
    )
    accepted = ", ".join(known[:12]) + (" …" if len(known) > 12 else "")
    return Problem(
        file=file,
        table=reading.n,
        line=None,
        found=found,
        accepted=f"at = one of {accepted}; this reading is kept and not held against anything",
        header="reading",
        nearest=nearest_words(name, known),
    )
