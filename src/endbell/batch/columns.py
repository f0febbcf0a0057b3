"""How the columns of a table of marks are understood: guessed, shown before work starts, overruled.

A heading that names a field, above cells that don't contradict it, is certain.  What only the cells
speak for is a guess, and a guess is never acted on unseen.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from ..dossier.values import nearest_words
from ..marks import KINDS
from ..marks.outcome import LEGIBILITIES, RESULTS
from .errors import ColumnsUnclear
from .fields import BY_NAME, IGNORED, NEEDED, heading_words, named_by

SAMPLE_ROWS = 500
PREVIEW_ROWS = 5
_HEADER_ROWS = 10  # a heading stands among the first rows, often under a title
_CONTRADICTED = 0.2  # a heading whose cells fit to less than this is doubted
_TOLD = 0.8  # cells alone tell a column when this many fit

_CODE = re.compile(r"(?=.*[0-9?])[0-9A-Za-z?.\-\[\] /]{2,20}")
_TEXT = re.compile(rf"{_CODE.pattern}|[a-z]+(-[a-z]+)+|.*[0-9].*", re.DOTALL)  # under its heading
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")

NO_HEADING = "no heading that is known"

IsPart = Callable[[str], bool]


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its number from 1, its heading, the field it is ('' not used), and why."""

    number: int
    heading: str
    field: str
    why: str
    certain: bool


@dataclass(frozen=True, slots=True)
class Understood:
    """A table as understood.  ``header``: how many rows stand above the first row of marks."""

    columns: tuple[Column, ...]
    header: int
    first_rows: tuple[tuple[str, ...], ...]

    @property
    def fields(self) -> tuple[str, ...]:
        """The field of every column, in order."""
        return tuple(column.field for column in self.columns)

    @property
    def missing(self) -> tuple[str, ...]:
        """The needed fields that no column is."""
        found = set(self.fields)
        named_values = {"feature", "value"} <= found
        return tuple(f for f in NEEDED if f not in found and not (f == "text" and named_values))

    @property
    def certain(self) -> bool:
        """Whether every needed column is there and beyond doubt."""
        return not self.missing and all(c.certain for c in self.columns if c.field in NEEDED)


def understand(
    sample: Sequence[Sequence[str]], is_part: IsPart, given: Mapping[str, str] | None = None
) -> Understood:
    """How a table is understood from its first rows; ``given``: heading or number -> field.

    ``is_part``: whether a text is the id of a part.  A heading in ``given`` that the table has not
    is passed over: it may be another table's.
    """
    header = _header_row(sample, given or {})
    headings = list(sample[header]) if header is not None else []
    body = sample[0 if header is None else header + 1 :]
    width = max((len(cells) for cells in sample), default=0)
    headings += [""] * (width - len(headings))
    cells = [
        [row[n].strip() for row in body if n < len(row) and row[n].strip()] for n in range(width)
    ]
    columns = [_by_heading(n, headings[n].strip(), cells[n], is_part) for n in range(width)]
    columns = _each_once(_date_or_day(columns, cells))
    columns = _overruled(columns, given or {})
    columns = _by_cells(columns, cells, is_part)
    first = tuple(tuple(row) for row in body[:PREVIEW_ROWS])
    return Understood(tuple(columns), 0 if header is None else header + 1, first)


def parse_maps(pairs: Sequence[str]) -> dict[str, str]:
    """``COLUMN=FIELD`` pairs; raises :class:`ColumnsUnclear` for a field that there is not."""
    out: dict[str, str] = {}
    for pair in pairs:
        column, equals, field = (piece.strip() for piece in pair.rpartition("="))
        if not equals or not column:
            raise ColumnsUnclear(f"--map '{pair}'; accepted: COLUMN=FIELD, such as Code=text")
        if field not in BY_NAME and field != IGNORED:
            near = nearest_words(field, (*BY_NAME, IGNORED))
            said = f"; did you mean {' or '.join(near)}?" if near else ""
            raise ColumnsUnclear(
                f"--map {column}={field}: no such field; accepted: {', '.join(BY_NAME)}, "
                f"{IGNORED}{said}"
            )
        out[column] = field
    return out


def unknown_maps(given: Mapping[str, str], tables: Sequence[Understood]) -> tuple[str, ...]:
    """The columns of ``given`` that no table has."""
    return tuple(
        name for name in given
        if not any(_is_called(c, name) for table in tables for c in table.columns)
    )  # fmt: skip


def _is_called(column: Column, name: str) -> bool:
    return name == str(column.number) or (
        bool(column.heading) and name.strip().lower() == column.heading.lower()
    )


def _header_row(sample: Sequence[Sequence[str]], given: Mapping[str, str]) -> int | None:
    wanted = {name.lower() for name in given if not name.isdigit()}
    for n, cells in enumerate(sample[:_HEADER_ROWS]):
        texts = [cell.strip() for cell in cells]
        named = sum(named_by(text) is not None or text.lower() in wanted for text in texts if text)
        values = sum(bool(_looks_like_value(text)) for text in texts)
        if named >= 2 or (named == 1 and not values):
            return n
        if values >= 2:
            return None
    return None


def _looks_like_value(text: str) -> bool:
    return text in KINDS or bool(re.search(r"[0-9]{2}", text))


def _by_heading(n: int, heading: str, cells: Sequence[str], is_part: IsPart) -> Column:
    field = named_by(heading) if heading else None
    if field is None:
        return Column(n + 1, heading, "", NO_HEADING, False)
    fits = _fit(field, cells, is_part, _TEXT)
    if fits is not None and cells and fits < _CONTRADICTED:
        return Column(n + 1, heading, field, f"its heading, but {1 - fits:.0%} don't fit", False)
    return Column(n + 1, heading, field, "its heading", True)


def _fit(field: str, cells: Sequence[str], is_part: IsPart, text: re.Pattern[str]) -> float | None:
    """The share of cells that can be ``field``; None where anything can."""
    test: Callable[[str], object]
    match field:
        case "part":
            test = is_part
        case "kind":
            test = KINDS.__contains__
        case "text":
            test = text.fullmatch
        case "legibility":
            test = LEGIBILITIES.__contains__
        case "result":
            test = RESULTS.__contains__
        case "on" | "as_of":
            test = _DAY.fullmatch
        case _:
            return None
    return sum(bool(test(cell)) for cell in cells) / len(cells) if cells else 0.0


def _date_or_day(columns: list[Column], cells: Sequence[Sequence[str]]) -> list[Column]:
    """A column headed 'date' is the date on a paper only where there are papers."""
    kinds = next((cells[c.number - 1] for c in columns if c.field == "kind"), ())
    if "document" in kinds or any(c.field == "on" for c in columns):
        return columns
    return [
        replace(c, field="on", why="its heading, and no mark is a document", certain=False)
        if c.field == "date" and heading_words(c.heading) == "date"
        else c
        for c in columns
    ]


def _each_once(columns: list[Column]) -> list[Column]:
    """Of two columns for one field, the first is used, and in doubt."""
    count: dict[str, int] = {}
    for c in columns:
        count[c.field] = count.get(c.field, 0) + 1
    out: list[Column] = []
    seen: set[str] = set()
    for c in columns:
        if c.field and c.field in seen:
            why = f"a second column of {c.field}"
            out.append(replace(c, field="", why=why, certain=False))
        elif c.field and count[c.field] > 1:
            out.append(replace(c, certain=False))
        else:
            out.append(c)
        seen.add(c.field)
    return out


def _overruled(columns: list[Column], given: Mapping[str, str]) -> list[Column]:
    told: dict[int, str] = {}
    for name, field in given.items():
        hit = next((c for c in columns if _is_called(c, name)), None)
        if hit is not None:
            told[hit.number] = field
    out: list[Column] = []
    for c in columns:
        if c.number in told:
            field = told[c.number]
            used = "" if field == IGNORED else field
            out.append(replace(c, field=used, why="as you say", certain=True))
        elif c.field and c.field in told.values():
            out.append(replace(c, field="", why="another column is, as you say", certain=True))
        else:
            out.append(c)
    return out


def _by_cells(
    columns: list[Column], cells: Sequence[Sequence[str]], is_part: IsPart
) -> list[Column]:
    """What headings leave open, from what stands in the columns."""
    out = list(columns)
    for field in ("kind", "part", "legibility", "result", "dossier", "text"):
        if any(c.field == field for c in out):
            continue
        free = [c for c in out if not c.field and c.why == NO_HEADING and cells[c.number - 1]]
        if field == "dossier":
            told = [(1.0, c) for c in free if _repeats(cells[c.number - 1])]
            why = "its cells repeat from row to row"
        else:
            told = [(_fit(field, cells[c.number - 1], is_part, _CODE) or 0.0, c) for c in free]
            told = [(fit, c) for fit, c in told if fit >= _TOLD]
            why = "its cells look like it"
        if told:
            _, c = max(told, key=lambda found: (found[0], -found[1].number))
            out[c.number - 1] = replace(c, field=field, why=why, certain=False)
    return out


def _repeats(values: Sequence[str]) -> bool:
    return len(set(values)) < len(values) or len(values) == 1
