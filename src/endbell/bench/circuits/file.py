"""A circuit file read (``endbell-circuit/1``): every good row used, every bad row kept and said."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, TypeVar, cast

from ...dossier.limits import visible
from ...dossier.places import Headers, header_lines
from ...dossier.rows import Desk, Place, read_keys, rows_of, unknown_keys
from ...dossier.text import check_format, parse_toml, read_text
from ...dossier.types import Problem, SetAside
from ...dossier.values import Fault, check_value, say
from ..circuit import Capacitor, Circuit, MainsTap, Rail, Resistor, Seat, StageDrawing, Winding
from .cards import NetlistError
from .keys import FORMAT_NAME, FORMAT_NUMBER, ROWS, TABLES, Entry
from .netlist import node_of, parse
from .references import references
from .values import figure

Table = Mapping[str, object]
Values = dict[str, Any]
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class CircuitFile:
    """A circuit and what was found in its file.

    ``problems``: rows that are not used, each kept in ``set_aside`` as typed; ``remarks``: slips
    that cost nothing: an unknown key, a rail that is named and not drawn.
    """

    circuit: Circuit
    file: str
    problems: tuple[Problem, ...] = ()
    remarks: tuple[Problem, ...] = ()
    set_aside: tuple[SetAside, ...] = ()


def load_circuit(path: Path | str) -> CircuitFile:
    """The circuit in the file at ``path``.

    Raises :class:`endbell.dossier.errors.DossierError` (one sentence) where the file can't be read,
    is no TOML, or is another kind of file.
    """
    return parse_circuit(read_text(path, "a circuit"), str(path))


def parse_circuit(text: str, file: str = "") -> CircuitFile:
    """The circuit in the text of a file; see :func:`load_circuit`."""
    return circuit_in(parse_toml(text, file), header_lines(text), file)


def circuit_of(tables: Table, file: str = "") -> Circuit:
    """The circuit in tables that are read already, as a sheet's own ``[circuit]``; what
    :func:`circuit_in` finds wrong is not said."""
    return circuit_in(tables, None, file).circuit


def circuit_in(top: Table, headers: Headers | None = None, file: str = "") -> CircuitFile:
    """The circuit in tables that are read already, with everything that was wrong."""
    check_format(file, top, FORMAT_NAME, FORMAT_NUMBER)
    desk = Desk(file)
    head = _row(desk, Place("circuit"), top, "") or {}
    set_aside: list[SetAside] = []
    rows: dict[str, list[tuple[Place, Values]]] = {}
    for name in ROWS:
        rows[name] = []
        named: set[str] = set()
        for place, table in rows_of(desk, top, headers or {}, name, "in one circuit"):
            values = _row(desk, place, table, name)
            if values is not None and _fits(desk, place, values, name, named):
                rows[name].append((place, values))
            else:
                set_aside.append(SetAside(name, place.table or 0, place.line or None, table))
    kept = ("format", "note")
    own = {key: value for key, value in head.items() if key not in kept}
    name = str(own.pop("id", "") or Path(file).stem or "own")
    circuit = Circuit(
        id=name,
        title=str(own.pop("title", "") or name),
        source=str(own.pop("source", "") or "not said"),
        confidence=str(own.pop("confidence", "") or "common practice, no source"),
        mains=_made(MainsTap, rows["mains"]),
        seats=_made(Seat, rows["seat"]),
        rails=_made(Rail, rows["rail"]),
        capacitors=_made(Capacitor, rows["capacitor"], volts=None),
        resistors=_made(Resistor, rows["resistor"]),
        windings=_made(Winding, rows["winding"]),
        stages=_made(StageDrawing, rows["stage"], title=""),
        **own,
    )
    for header, number, fault in references(circuit):
        place = rows[header][number][0]
        desk.remark(place, fault)
    return CircuitFile(circuit, file, tuple(desk.problems), tuple(desk.remarks), tuple(set_aside))


def _made(kind: type[T], rows: list[tuple[Place, Values]], **usual: object) -> tuple[T, ...]:
    known = {field.name for field in fields(cast("Any", kind))}
    return tuple(
        kind(**{**usual, **{key: value for key, value in values.items() if key in known}})
        for _, values in rows
    )


def _fits(desk: Desk, place: Place, values: Values, name: str, named: set[str]) -> bool:
    """Whether a row is the only one of its name, and a stage's netlist can be used."""
    ident = values.get("at" if name == "seat" else "id")
    if isinstance(ident, str):
        if not ident.strip() or "@" in ident:
            fault = Fault(f"a name of {say(ident)}", "a word without @")
            desk.problem(place, fault)
            return False
        if ident in named:
            desk.problem(place, Fault(f'a second {name} "{visible(ident)}"', "each name once"))
            return False
        named.add(ident)
    if name == "stage":
        try:
            netlist = parse(values["netlist"])
            for key in ("source_node", "out_node"):
                node_of(netlist, values[key])
        except NetlistError as error:
            desk.problem(place, Fault(_told(error), error.accepted, error.nearest))
            return False
    return True


def _told(error: NetlistError) -> str:
    return f"netlist line {error.line}: {error.found}" if error.line else f"netlist: {error.found}"


def _row(desk: Desk, place: Place, table: Table, name: str) -> Values | None:
    """The values of a row in SI units; None where it can't be used (its first fault is said)."""
    entries = {entry.key.name: entry for entry in TABLES[name]}
    keys = [entry.key for entry in entries.values()]
    if not name:  # a slip in the head costs that key alone
        keys = [replace(key, weighs=False) for key in keys]
    values, fatal = read_keys(
        desk, place, table, keys, lambda key, raw: _value(entries[key.name], raw)
    )
    unknown_keys(desk, place, table, [*entries, *(() if name else ROWS)], "circuit")
    if fatal is None:
        return values
    desk.problem(place, fatal)
    return None


def _value(entry: Entry, raw: object) -> object:
    key = entry.key
    if key.name == "netlist" and isinstance(raw, str):
        return raw  # its own reader says what is wrong with it, line by line
    found = check_value(key, raw)
    if isinstance(found, Fault):
        return found
    if entry.unit and isinstance(found, str):
        found = figure(found, entry.unit)
        if isinstance(found, Fault):
            return Fault(f"{key.name} is {found.found}", found.accepted)
    if isinstance(found, float | int) and entry.low is not None and found < entry.low:
        return Fault(f"{key.name} is {say(raw)}", f"{entry.low:g} or more: {key.words}")
    if key.form == "number" and isinstance(found, float):
        return int(found) if found.is_integer() else Fault(f"{key.name} is {say(raw)}", "a count")
    return found
