"""From what was typed in a form to the files of a shop's pack.

A form holds rows of one table; only what differs from the packs below is written, so that a shop's
pack says what the shop knows otherwise and nothing more.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..reference.cells import CellError, Cells
from ..reference.tables import TABLES, Table
from .pack_checks import Checked, Trouble
from .pack_rows import MAX_ROWS, SHOP_SAYS, TEXTS, columns_of, with_rows
from .pack_sheets import SheetRow, key_text

Typed = dict[str, str]


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows of one table in a form: those there are and blank ones beneath."""

    table: str
    rows: tuple[Typed, ...]
    fixed: Mapping[str, str]
    """Cells that are the same in every row and not asked for."""


@dataclass(frozen=True, slots=True)
class Edited:
    """What would be recorded: the files after, and how many rows were changed."""

    files: Mapping[str, str]
    changed: int
    in_toml: tuple[SheetRow, ...] = ()
    """Own rows that stand in a TOML file, which a form does not write into."""


def grid_of(
    table: str, rows: Iterable[SheetRow], fixed: Mapping[str, str] | None = None, blank: int = 2
) -> Grid:
    """The rows with their cells as texts; ``blank`` empty ones to fill in beneath."""
    known = tuple({**row.cells, **_origin(row)} for row in rows)
    empty: Typed = {"source": SHOP_SAYS, "confidence": ""}
    return Grid(table, (*known, *(dict(empty) for _ in range(blank))), fixed or {})


def typed_rows(
    form: Mapping[str, str], name: str, table: str, fixed: Mapping[str, str] | None = None
) -> tuple[Typed, ...]:
    """The rows of the grid ``name``: fields ``name.3.key``.  Rows left blank are not there.

    Where a row is from doesn't fill it; ``fixed`` is added to each.
    """
    keys = [column.key for column in columns_of(table)]
    found: list[Typed] = []
    for n in range(MAX_ROWS):
        cells = {key: form.get(f"{name}.{n}.{key}", "").strip() for key in keys}
        if f"{name}.{n}.source" not in form:
            break
        if any(value for key, value in cells.items() if key not in TEXTS):
            found.append({**cells, **(fixed or {})})
    return tuple(found)


def edited(
    pack: str,
    files: Mapping[str, str],
    table: str,
    before: Sequence[SheetRow],
    typed: Sequence[Typed],
) -> Edited:
    """The files after the rows ``before`` (own ones and those in force below) became ``typed``.

    Rows of one key go together: where any of them differs from what is in force, all of that key
    are written, because they replace those below as one.
    """
    there: dict[str, list[Typed]] = {}
    for row in before:
        there.setdefault(row.key, []).append(_plain({**row.cells, **_origin(row)}))
    wanted: dict[str, list[Typed]] = {}
    for row in typed:
        wanted.setdefault(_key_typed(table, row), []).append(_plain(row))
    own = [row for row in before if row.pack == pack]
    in_toml = tuple(row for row in own if row.file != f"{table}.csv")
    same = {key for key, rows in wanted.items() if there.get(key) == rows}
    gone = [row for row in own if row.key not in same and row not in in_toml]
    fresh = [row for key, rows in wanted.items() if key not in same for row in rows]
    lines = [row.line for row in gone if row.line is not None]
    if not fresh and not lines:
        return Edited(files, 0, in_toml)
    return Edited(with_rows(files, table, fresh, lines), max(len(fresh), len(lines)), in_toml)


def troubles_with(checked: Checked, before: Checked) -> tuple[Trouble, ...]:
    """The troubles that are new: what was wrong already is not this form's to mend."""

    def said(trouble: Trouble) -> tuple[str, ...]:
        return (trouble.file, trouble.table, trouble.found, trouble.accepted)

    known = {said(trouble) for trouble in before.troubles}
    return tuple(trouble for trouble in checked.troubles if said(trouble) not in known)


def _key_typed(table: str, row: Typed) -> str:
    """The key of a row as typed; the row itself where it can't be built (the check will say)."""
    form: Table[object] = TABLES[table]
    cells = {key: value for key, value in row.items() if value}
    try:
        return key_text(form.key(form.build(Cells(cells))))
    except CellError:
        return repr(sorted(cells.items()))


def _origin(row: SheetRow) -> Typed:
    return {
        "source": row.source,
        "confidence": row.confidence,
        "how": row.how,
        "note": row.note,
    }


def _plain(row: Mapping[str, str]) -> Typed:
    return {key: value for key, value in row.items() if value != ""}
