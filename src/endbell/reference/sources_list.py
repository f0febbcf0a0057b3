"""A shop's own list of source numbers, from CSV or a spreadsheet, into the shop's own pack.

Lists come with all kinds of headings, so the columns are guessed from headings and contents, shown
as a preview, and can be named instead. Rows that can't be used are reported with their line; a
number that stands twice is reported and the first is kept; names the shop already has are never
overwritten.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

from .errors import PackError
from .names import NUMBER, Taken, name_sources

PREVIEW_ROWS = 8
_HEADER_ROWS = 10  # a heading stands among the first rows, often under a title
_NUMBER_WORDS = {"source", "number", "no", "nr", "num", "code", "id", "eia", "rma", "prefix"}
_NAME_WORDS = {"name", "company", "firm", "manufacturer", "mfr", "maker", "supplier", "vendor"}


class ListUnreadable(PackError):
    """The list can't be read at all, or its columns can't be guessed."""


@dataclass(frozen=True, slots=True)
class Columns:
    """Which columns hold number and name, and the row of the headings; all counted from 0."""

    number: int
    name: int
    header: int | None = None


@dataclass(frozen=True, slots=True)
class ListedSource:
    """One usable row: source number, name, and its line in the list (from 1)."""

    number: str
    name: str
    line: int


@dataclass(frozen=True, slots=True)
class ListProblem:
    """A row that was left out: its line (a row number in a spreadsheet), found, accepted."""

    line: int
    found: str
    accepted: str


@dataclass(frozen=True, slots=True)
class SourceList:
    """A list as it was understood; nothing has been written yet."""

    columns: Columns
    headings: tuple[str, ...]
    preview: tuple[tuple[str, ...], ...]
    rows: tuple[ListedSource, ...]
    problems: tuple[ListProblem, ...]


def read_source_list(path: Path, columns: Columns | None = None) -> SourceList:
    """Read a list and say how it was understood; ``columns`` overrules the guess.

    ListUnreadable for a file that is neither CSV nor ``.xlsx``, or without two such columns.
    """
    table = _spreadsheet(path) if path.suffix.lower() == ".xlsx" else _csv(path)
    chosen = guess_columns([cells for _, cells in table]) if columns is None else columns
    start = 0 if chosen.header is None else chosen.header + 1
    headings = () if chosen.header is None else tuple(table[chosen.header][1])
    rows: list[ListedSource] = []
    problems: list[ListProblem] = []
    seen: dict[str, ListedSource] = {}
    for line, cells in table[start:]:
        row = _row(line, cells, chosen)
        if isinstance(row, ListProblem):
            problems.append(row)
        elif row.number in seen:
            first = seen[row.number]
            found = f"{row.number} '{row.name}' again, after '{first.name}' on line {first.line}"
            problems.append(ListProblem(line, found, "every number once; the first was kept"))
        else:
            seen[row.number] = row
            rows.append(row)
    preview = tuple(tuple(cells) for _, cells in table[start : start + PREVIEW_ROWS])
    return SourceList(chosen, headings, preview, tuple(rows), tuple(problems))


def add_source_list(pack_dir: Path, listed: SourceList, *, source: str) -> tuple[Taken, ...]:
    """Write the usable rows into the shop's pack; numbers it names otherwise are returned.

    ``source``: where the list is from, as it will stand in every row.
    """
    names = [(row.number, row.name) for row in listed.rows]
    return name_sources(pack_dir, names, source=source)


def guess_columns(table: Sequence[Sequence[str]]) -> Columns:
    """Which columns are number and name, by their headings and by what stands in them."""
    width = max((len(cells) for cells in table), default=0)
    header = _header_row(table)
    body = table[0 if header is None else header + 1 :]
    best: tuple[float, int, int] | None = None
    for number in range(width):
        for name in range(width):
            if number == name:
                continue
            numbers = _share(body, number, NUMBER)
            names = _share(body, name, re.compile(r".*[^\W\d_]{2}.*", re.DOTALL))
            if header is not None:
                numbers += _heading(table[header], number, _NUMBER_WORDS)
                names += _heading(table[header], name, _NAME_WORDS)
            score = numbers + names if numbers > 0.3 and names > 0.3 else 0.0
            if score > 0 and (best is None or score > best[0]):
                best = (score, number, name)
    if best is None:
        raise ListUnreadable(
            "no column of source numbers (two to four digits) beside one of names was found;"
            " name the columns"
        )
    return Columns(best[1], best[2], header)


def _header_row(table: Sequence[Sequence[str]]) -> int | None:
    for n, cells in enumerate(table[:_HEADER_ROWS]):
        if any(NUMBER.fullmatch(cell.strip()) for cell in cells):
            return None
        words = [_words(cell) for cell in cells]
        told = sum(bool(found & (_NUMBER_WORDS | _NAME_WORDS)) for found in words)
        if told >= 2 or (told and sum(bool(found) for found in words) >= 2):
            return n
    return None


def _words(cell: str) -> set[str]:
    return set(re.findall(r"[a-z]+", cell.lower()))


def _heading(cells: Sequence[str], column: int, wanted: set[str]) -> float:
    words = _words(cells[column]) if column < len(cells) else set[str]()
    return len(words & wanted) / len(words) if words else 0.0


def _share(body: Sequence[Sequence[str]], column: int, form: re.Pattern[str]) -> float:
    cells = [cells[column].strip() for cells in body if column < len(cells)]
    filled = [cell for cell in cells if cell]
    return sum(bool(form.fullmatch(cell)) for cell in filled) / len(filled) if filled else 0.0


def _row(line: int, cells: Sequence[str], columns: Columns) -> ListedSource | ListProblem:
    number = _cell(cells, columns.number)
    name = " ".join(_cell(cells, columns.name).split())
    if not NUMBER.fullmatch(number):
        return ListProblem(line, f"number {number!r}", "a source number of two to four digits")
    if not name:
        return ListProblem(line, f"no name for {number}", "a name")
    return ListedSource(number, name, line)


def _cell(cells: Sequence[str], column: int) -> str:
    return cells[column].strip() if column < len(cells) else ""


def _csv(path: Path) -> list[tuple[int, list[str]]]:
    data = path.read_bytes()
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")  # what spreadsheets write without asking
    if "\0" in text:
        raise ListUnreadable(f"{path}: not a CSV file; CSV and .xlsx are accepted")
    sample = text[:4096]
    separator = max(",;\t", key=sample.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    table: list[tuple[int, list[str]]] = []
    line = 1
    for cells in reader:
        if any(cell.strip() for cell in cells):
            table.append((line, cells))
        line = reader.line_num + 1
    return table


def _spreadsheet(path: Path) -> list[tuple[int, list[str]]]:
    try:
        import openpyxl  # an extra: only for spreadsheets
        from openpyxl.utils.exceptions import InvalidFileException
    except ImportError:
        raise ListUnreadable(
            f"{path}: reading spreadsheets needs openpyxl; or save the list as CSV"
        ) from None
    try:
        book: Any = openpyxl.load_workbook(path, read_only=True, data_only=True)
    except (OSError, ValueError, KeyError, InvalidFileException, BadZipFile, SyntaxError) as error:
        raise ListUnreadable(f"{path}: not a spreadsheet that can be read ({error})") from None
    table: list[tuple[int, list[str]]] = []
    for line, cells in enumerate(book.worksheets[0].iter_rows(), start=1):
        texts = [_spreadsheet_text(cell) for cell in cells]
        if any(text.strip() for text in texts):
            table.append((line, texts))
    book.close()
    return table


def _spreadsheet_text(cell: Any) -> str:
    """A cell as its reader sees it: numbers with the leading zeros that its format shows."""
    value: object = cell.value
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, int) and not isinstance(value, bool):
        form = str(cell.number_format)
        return str(value).zfill(len(form)) if re.fullmatch(r"0+", form) else str(value)
    return str(value)
