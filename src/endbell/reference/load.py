"""One pack: from rows to records. Rows that can't be used are left out and reported.

The packs that are shipped are proved clean by the tests and are read with light checks alone; a
pack from anywhere else is untrusted input and goes through the full schema first (``strict``).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from .cells import CellError, Cells
from .errors import PackProblem
from .files import RawPack, RawRow, read_pack
from .tables import TABLES, Table


@dataclass(frozen=True, slots=True)
class Row:
    """A record and the row it came from, so that it can be reported later."""

    table: str
    value: object
    raw: RawRow


@dataclass(frozen=True, slots=True)
class Pack:
    """One pack as records, not yet merged with others."""

    raw: RawPack
    rows: tuple[Row, ...]
    problems: tuple[PackProblem, ...]


def load_pack(folder: Path, *, strict: bool) -> Pack:
    """The pack in ``folder``. PackUnreadable where a file or the head can't be used at all."""
    raw = read_pack(folder)
    problems = list(raw.problems)
    usable = raw.rows
    if strict:
        from .validate import row_problems  # pydantic: only for packs that are not shipped

        refused = {id(row): found for row in raw.rows if (found := row_problems(row))}
        problems += [problem for found in refused.values() for problem in found]
        usable = tuple(row for row in raw.rows if id(row) not in refused)
    rows: list[Row] = []
    seen: set[tuple[str, object]] = set()
    for row in usable:
        table: Table[object] = TABLES[row.table]
        try:
            value = table.build(Cells(row.values))
            if table.unique:
                _first_of_its_key(table, value, seen)
        except CellError as error:
            problems.append(row.problem(error.found, error.accepted, error.key))
            continue
        rows.append(Row(row.table, value, row))
    return Pack(raw, tuple(rows), tuple(problems))


def _first_of_its_key(table: Table[object], value: object, seen: set[tuple[str, object]]) -> None:
    key = (table.name, table.key(value))
    if key in seen:
        said = key[1] if isinstance(key[1], str) else repr(key[1])
        raise CellError("id", f"a second {table.name} row for {said}", "one row in a pack")
    seen.add(key)
