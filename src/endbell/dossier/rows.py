"""One table of a dossier file: its keys checked, faults turned into problems and remarks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from .errors import OutOfBounds
from .keys import TABLES
from .limits import MAX_UNKNOWN_KEYS, visible
from .types import Problem
from .values import Fault, Value, check_value, nearest_words


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
        value = self.values.get(key)
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
    values: dict[str, Value] = {}
    fatal: Fault | None = None
    for key in TABLES[name]:
        raw = table.get(key.name)
        if raw is None:
            if key.required and fatal is None:
                fatal = Fault(f"no {key.name}", key.words)
            continue
        value = check_value(key, raw)
        if not isinstance(value, Fault):
            values[key.name] = value
        elif not key.weighs:
            desk.remark(place, value)
        elif fatal is None:
            fatal = value
    _unknown_keys(desk, place, table, name)
    if fatal is None:
        return Row(place, values)
    desk.problem(place, fatal)
    return None


def _unknown_keys(desk: Desk, place: Place, table: Mapping[str, object], name: str) -> None:
    known = [key.name for key in TABLES[name]]
    if name == "":
        known += [t for t in TABLES if t]
    unknown = [item for item in table.items() if item[0] not in known]
    if len(unknown) > MAX_UNKNOWN_KEYS:
        sentence = f"{len(unknown):,} keys that no dossier has; this is another kind of file"
        raise OutOfBounds(desk.file, sentence, line=place.line or None)
    for key, value in unknown:
        where = f"{place}.{key}" if name else key
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
