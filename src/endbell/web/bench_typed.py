"""What is typed at the bench: a reading as a row of the sheet, units to choose from, pasted CSV."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from io import StringIO
from typing import Any

from ..bench.kinds import line_kinds
from ..bench.lines import Line
from ..bench.result import SheetResult
from ..bench.result_json import told
from ..dossier.values import nearest_words

UNITS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "V": (("V", "V"), ("mV", "mV"), ("kV", "kV")),
    "A": (("mA", "mA"), ("A", "A"), ("uA", "µA")),
    "ohm": (("ohm", "Ω"), ("kohm", "kΩ"), ("Mohm", "MΩ"), ("mohm", "mΩ"), ("Gohm", "GΩ")),
    "F": (("uF", "µF"), ("nF", "nF"), ("pF", "pF")),
    "H": (("H", "H"), ("mH", "mH")),
    "s": (("s", "s"), ("ms", "ms"), ("min", "min")),
    "W": (("W", "W"), ("mW", "mW")),
    "J": (("J", "J"),),
    "Hz": (("Hz", "Hz"), ("kHz", "kHz")),
    "dB": (("dB", "dB"),),
    "m": (("m", "m"), ("cm", "cm")),
    "K": (("degC", "°C"), ("degF", "°F")),
    "1": (("", "–"), ("%", "%")),
}
"""Units that a meter shows, by the SI symbol of the line: as they are written, as they are told."""

MOST_ROWS = 500
"""Rows of one paste."""

COLUMNS = ("line", "at", "value", "unit")
_UNIT_TYPED = re.compile(r"[A-Za-zµμΩΩ°%∞]")
_EXPONENT = re.compile(r"(?<=\d)[eE][+-]?\d")


@dataclass(frozen=True, slots=True)
class Pasted:
    """One line of a paste. ``text``: as pasted; ``row``: None where ``trouble`` says why not."""

    n: int
    text: str
    row: Mapping[str, Any] | None = None
    trouble: str = ""


def units_for(line: Line, last: str = "") -> tuple[tuple[tuple[str, str], ...], str]:
    """The units to choose from and the one to begin with: ``last``, else as the limits are told."""
    choice = UNITS.get(line.unit, ((line.unit, line.unit),))
    written = [unit for unit, _ in choice]
    if last in written:
        return choice, last
    figure = line.expected
    for bound in line.bounds:
        figure = (
            figure if figure is not None else bound.low if bound.low is not None else bound.high
        )
    shown = told(figure, line.unit).rpartition(" ")[2] if figure else ""
    return choice, next((unit for unit, name in choice if name == shown), written[0])


def reading_row(
    line: str, at: str, value: str, unit: str, note: str = "", impossible: bool = False
) -> dict[str, Any]:
    """A ``[[reading]]`` as it is kept: texts as typed; a unit chosen beside counts only where the
    text has none of its own ('4k7', '60 mohm')."""
    row: dict[str, Any] = {"line": line.strip()}
    if at.strip():
        row["at"] = at.strip()
    if impossible:
        row["result"] = "not-possible"
    else:
        row["value"] = value.strip()
        if unit and not _UNIT_TYPED.search(_EXPONENT.sub("", value)):
            row["unit"] = unit
    if note.strip():
        row["note"] = note.strip()
    return row


def trouble_of(result: SheetResult, n: int) -> tuple[str, str]:
    """Why reading ``n`` of the sheet is not used, and what would do; ('', '') where it is."""
    for problem in result.problems:
        if problem.header == "reading" and problem.table == n:
            near = f"; did you mean {' or '.join(problem.nearest)}?" if problem.nearest else ""
            return problem.found, f"{problem.accepted}{near}"
    return "", ""


def pasted(text: str) -> tuple[Pasted, ...]:
    """The lines of a paste: line, at, value, unit; with commas, semicolons or tabs between.

    A first line that names the columns says their order.  Raises ValueError (a sentence) for a
    paste that is too long.
    """
    lines = [line for line in text.replace("\0", "").splitlines() if line.strip()]
    if len(lines) > MOST_ROWS + 1:
        raise ValueError(f"{len(lines):,} lines; at most {MOST_ROWS} at a time")
    if not lines:
        return ()
    between = _between(lines)
    columns: Sequence[str] = COLUMNS
    head = [cell.strip().lower() for cell in _cells(lines[0], between)]
    if "line" in head and "value" in head:
        columns, lines = head, lines[1:]
    return tuple(_pasted(n, line, between, columns) for n, line in enumerate(lines, start=1))


def _pasted(n: int, text: str, between: str, columns: Sequence[str]) -> Pasted:
    cells = [cell.strip() for cell in _cells(text, between)]
    if len(cells) > len(columns) and not any(cells[len(columns) :]):
        cells = cells[: len(columns)]
    if len(cells) < 2 or len(cells) > len(columns):
        wanted = ", ".join(columns)
        return Pasted(n, text, None, f"{len(cells)} cells; accepted: {wanted}")
    row = dict(zip(columns, cells, strict=False))
    if len(cells) == 2 and columns == COLUMNS:
        row = {"line": cells[0], "value": cells[1]}  # a line that has no place
    line = row.get("line", "")
    if line not in line_kinds():
        near = nearest_words(line, line_kinds())
        hint = f"; did you mean {' or '.join(near)}?" if near else ""
        return Pasted(n, text, None, f'no line is called "{line}"{hint}')
    if not row.get("value"):
        return Pasted(n, text, None, "no value; accepted: what the meter shows")
    made = reading_row(
        line, row.get("at", ""), row["value"], row.get("unit", ""), row.get("note", "")
    )
    return Pasted(n, text, made)


def _between(lines: Sequence[str]) -> str:
    """The character between cells: the one that the first line has most of."""
    first = lines[0]
    best = max(("\t", ";", ","), key=first.count)
    return best if first.count(best) else ","


def _cells(text: str, between: str) -> list[str]:
    return next(csv.reader(StringIO(text), delimiter=between, skipinitialspace=True), [])
