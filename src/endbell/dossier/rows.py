"""One table of a dossier file: its keys checked, faults turned into problems and remarks."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar, cast

from .errors import OutOfBounds
from .keys import KEYS, REQUIRED, TABLES, Key
from .limits import MAX_ROWS, MAX_UNKNOWN_KEYS, visible
from .places import Headers, lines_of
from .types import Problem
from .values import Fault, Value, check_value, nearest_words, say

T = TypeVar("T")


@dataclass(slots=True)
class Desk:
    """Where the loader puts what it finds in one file; the only thing here that changes."""

    file: str
    problems: list[Problem] = field(default_factory=list[Problem])
    remarks: list[Problem] = field(default_factory=list[Problem])
    unknown_keys: list[str] = field(default_factory=list[str])
    extra: dict[str, str] = field(default_factory=dict[str, str])

    def problem(self, place: Place, fault: Fault) -> None:
        """A row that will not be weighed."""
        self.problems.append(self._said(place, fault))

    def remark(self, place: Place, fault: Fault) -> None:
        """Something to say about a row that is weighed all the same."""
        self.remarks.append(self._said(place, fault))

    def _said(self, place: Place, fault: Fault) -> Problem:
        return Problem(
            file=self.file,
            table=place.table,
            line=place.line or None,
            found=fault.found,
            accepted=fault.accepted,
            header=place.header,
            nearest=fault.nearest,
        )


@dataclass(frozen=True, slots=True)
class Place:
    """A table of the file: its header ('mark'), number from 1 (None: there is only one), line."""

    header: str
    table: int | None = None
    line: int = 0

    def __str__(self) -> str:
        return self.header if self.table is None else f"{self.header} {self.table}"


@dataclass(frozen=True, slots=True)
class Row:
    """The keys of one table that could be read."""

    place: Place
    values: Mapping[str, Value]

    def text(self, key: str, default: str = "") -> str:
        """A text, or ``default`` where the key is missing."""
        value = self.values.get(key, default)
        return value if isinstance(value, str) else default

    def text_or_none(self, key: str) -> str | None:
        """A text, or None where the key is missing."""
        value = self.values.get(key)
        return value if isinstance(value, str) else None

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts."""
        value = self.values.get(key)
        return value if isinstance(value, tuple) else ()

    def number(self, key: str) -> float | None:
        """A number."""
        value = self.values.get(key)
        return (
            float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
        )

    def day(self, key: str) -> date | None:
        """A calendar day."""
        value = self.values.get(key)
        return value if isinstance(value, date) else None

    def text_or_number(self, key: str) -> str | float | None:
        """A text, a number, or None."""
        text = self.text_or_none(key)
        return self.number(key) if text is None else text


def read_row(desk: Desk, place: Place, table: Mapping[str, object], name: str) -> Row | None:
    """The keys of ``table`` checked against ``TABLES[name]``, or None where the row can't be used.

    Every fault of the row is found, but only the first is the reason it is left out; a fault in a
    key that carries no weight, and an unknown key, are remarks.
    """
    faultless = _faultless(table, name)
    if faultless is not None:
        return Row(place, faultless)
    values, fatal = read_keys(desk, place, table, TABLES[name], check_value)
    known = [*(key.name for key in TABLES[name]), *(t for t in TABLES if t and not name)]
    unknown_keys(desk, place, table, known, "dossier")
    if fatal is None:
        return Row(place, values)
    desk.problem(place, fatal)
    return None


def read_keys(
    desk: Desk,
    place: Place,
    table: Mapping[str, object],
    keys: Iterable[Key],
    read: Callable[[Key, object], T | Fault],
) -> tuple[dict[str, T], Fault | None]:
    """The values of ``keys`` by ``read``, and the first fault for which the row can't be used.

    A fault in a key that carries no weight is a remark.
    """
    values: dict[str, T] = {}
    fatal: Fault | None = None
    for key in keys:
        raw = table.get(key.name)
        if raw is None:
            if key.required and fatal is None:
                fatal = Fault(f"no {key.name}", key.words)
            continue
        value = read(key, raw)
        if not isinstance(value, Fault):
            values[key.name] = value
        elif not key.weighs:
            desk.remark(place, value)
        elif fatal is None:
            fatal = value
    return values, fatal


def rows_of(
    desk: Desk, top: Mapping[str, object], headers: Headers, name: str, where: str
) -> list[tuple[Place, Mapping[str, object]]]:
    """Every ``[[name]]`` with its place; what is no table is reported.

    ``where``: 'in one dossier', for the sentence of :class:`OutOfBounds`.
    """
    raw = top.get(name, [])
    line = next(iter(headers.get(name, ())), 0)
    if isinstance(raw, dict):
        fault = Fault(f"[{name}] with single brackets", f"[[{name}]]: there may be many")
        desk.problem(Place(name, 1, line), fault)
        return []
    if not isinstance(raw, list):
        desk.problem(Place(name), Fault(f"{name} is {say(raw)}", f"tables headed [[{name}]]"))
        return []
    items = cast("list[object]", raw)
    if len(items) > MAX_ROWS:
        sentence = f"{len(items):,} tables [[{name}]]; at most {MAX_ROWS:,} {where}"
        raise OutOfBounds(desk.file, sentence)
    rows: list[tuple[Place, Mapping[str, object]]] = []
    lines = lines_of(headers, name, len(items))
    for number, (item, at) in enumerate(zip(items, lines, strict=True), start=1):
        place = Place(name, number, at)
        if isinstance(item, dict):
            rows.append((place, cast("Mapping[str, object]", item)))
        else:
            fault = Fault(f"{name} {number} is {say(item)}", f"tables headed [[{name}]]")
            desk.problem(place, fault)
    return rows


def _faultless(table: Mapping[str, object], name: str) -> dict[str, Value] | None:
    """The values of a table that is in order, as nearly all are; None: look closer."""
    keys = KEYS[name]
    if not REQUIRED[name] <= table.keys():
        return None
    values: dict[str, Value] = {}
    for item, raw in table.items():
        key = keys.get(item)
        if key is None:
            if name or not item or item not in TABLES:
                return None
            continue
        value = check_value(key, raw)
        if isinstance(value, Fault):
            return None
        values[item] = value
    return values


def unknown_keys(
    desk: Desk, place: Place, table: Mapping[str, object], known: Sequence[str], what: str
) -> None:
    """Keys that no ``what`` has: kept, and remarked."""
    unknown = [item for item in table.items() if item[0] not in known]
    if len(unknown) > MAX_UNKNOWN_KEYS:
        sentence = f"{len(unknown):,} keys that no {what} has; this is another kind of file"
        raise OutOfBounds(desk.file, sentence, line=place.line or None)
    for key, value in unknown:
        where = key if place.table is None and place.header == what else f"{place}.{key}"
        desk.unknown_keys.append(where)
        desk.extra[where] = _as_text(value)
        fault = Fault(
            f'unknown key "{visible(key)}"', "kept and not used", nearest_words(key, known)
        )
        desk.remark(place, fault)


def _as_text(value: object) -> str:
    try:
        return value if isinstance(value, str) else str(value)
    except (RecursionError, ValueError):  # nested to no end, a number of thousands of digits
        return "…"
