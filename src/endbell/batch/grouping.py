"""The rows of a table, dossier by dossier, whether they stand together or not.

A first pass counts the dossiers and sees whether the rows of each stand together.  If they do, a
second pass hands them on as they come.  If not, they are sorted on disk (SQLite, in a temporary
file beside the results): by dossier in the order in which the dossiers first appear, the rows of
each in the order of the table.  Memory does not grow with the table in either case.
"""

from __future__ import annotations

import json
import sqlite3
from array import array
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from hashlib import blake2b
from itertools import groupby, islice
from pathlib import Path

from .columns import SAMPLE_ROWS, Understood
from .items import BadRow, BadRowsItem, Item, RowsItem
from .tables import Row, rows_of

MAX_ROWS_HELD = 20_000  # of one dossier: four times what is believed to be one
_INSERTED = 10_000  # rows at a time

Step = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Table:
    """A table that has been looked through once."""

    path: Path
    understood: Understood
    dossiers: int
    together: bool


def sample_of(path: Path) -> list[list[str]]:
    """The first rows of a table, for understanding it."""
    good = (cells for _, cells in rows_of(path) if not isinstance(cells, str))
    return list(islice(good, SAMPLE_ROWS))


def look_through(path: Path, understood: Understood, step: Step = lambda rows: None) -> Table:
    """Count the dossiers of a table, and see whether each one's rows stand together.

    ``step`` is told the number of rows now and then.  A dossier costs eight bytes meanwhile.
    """
    import numpy as np

    column = _dossier_column(understood)
    runs = array("Q")
    last = ""
    for n, (_, cells) in enumerate(_body(path, understood), start=1):
        if n % _INSERTED == 0:
            step(n)
        name = _name(cells, column)
        if name and name != last:
            runs.append(
                int.from_bytes(blake2b(name.encode(errors="replace"), digest_size=8).digest())
            )
            last = name
    dossiers = int(np.unique(np.frombuffer(runs, dtype=np.uint64)).size) if runs else 0
    return Table(path, understood, dossiers, dossiers == len(runs))


def dossiers_of(table: Table, scratch: Path) -> Iterator[Item]:
    """Every dossier of a table; ``scratch``: a folder for sorting, where that is needed."""
    rows = _body(table.path, table.understood)
    if table.together:
        yield from _in_runs(table, rows)
    else:
        yield from _sorted(table, rows, scratch)


def _body(path: Path, understood: Understood) -> Iterator[Row]:
    """The rows below the heading."""
    return islice(rows_of(path), understood.header, None)


def _dossier_column(understood: Understood) -> int:
    return understood.fields.index("dossier")


def _name(cells: list[str] | str, column: int) -> str:
    """The dossier a row belongs to; '' for one that names none or is no row."""
    if isinstance(cells, str) or column >= len(cells):
        return ""
    return cells[column].strip()


def _in_runs(table: Table, rows: Iterator[Row]) -> Iterator[Item]:
    """Dossiers whose rows stand together; a row between them that names none does not part them."""
    column = _dossier_column(table.understood)
    current = ""
    held: list[Row] = []
    loose: list[Row] = []
    for row in rows:
        name = _name(row[1], column)
        if not name:
            loose.append(row)
        elif name == current:
            if len(held) < MAX_ROWS_HELD:
                held.append(row)
        else:
            yield from _run(table, current, held, loose)
            current, held, loose = name, [row], []
        if len(loose) >= _INSERTED:
            yield from _bad(table, iter(loose))
            loose = []
    yield from _run(table, current, held, loose)


def _run(table: Table, name: str, held: list[Row], loose: list[Row]) -> Iterator[Item]:
    if held:
        yield _item(table, name, iter(held))
    yield from _bad(table, iter(loose))


def _item(table: Table, name: str, rows: Iterator[Row]) -> RowsItem:
    held = tuple(
        (line, tuple(cells))
        for line, cells in islice(rows, MAX_ROWS_HELD)
        if not isinstance(cells, str)
    )
    return RowsItem(str(table.path), name, table.understood.fields, held)


def _bad(table: Table, rows: Iterator[Row]) -> Iterator[BadRowsItem]:
    """Rows that belong to no dossier, a hundred to an item."""
    file = str(table.path)
    column = table.understood.columns[_dossier_column(table.understood)]
    accepted = f'the dossier it belongs to, in column "{column.heading or column.number}"'
    while some := list(islice(rows, 100)):
        yield BadRowsItem(
            file,
            tuple(
                BadRow(file, "", "row", None, line, cells, "a row of cells")
                if isinstance(cells, str)
                else BadRow(file, "", "row", None, line, _said(cells), accepted)
                for line, cells in some
            ),
        )


def _said(cells: list[str]) -> str:
    return "no dossier: " + ", ".join(cell for cell in cells if cell.strip())[:200]


# ---- rows of one dossier far apart


def _sorted(table: Table, rows: Iterator[Row], scratch: Path) -> Iterator[Item]:
    file = scratch / "sorting.sqlite"
    file.unlink(missing_ok=True)
    try:
        with closing(sqlite3.connect(file, isolation_level=None)) as base:
            _fill(base, table, rows)
            found = base.execute(
                "SELECT d.name, r.line, r.cells FROM rows r JOIN dossiers d ON d.n = r.dossier"
                " ORDER BY r.dossier, r.line"
            )
            read = ((name, (line, json.loads(cells))) for name, line, cells in found)
            for name, run in groupby(read, key=lambda row: row[0]):
                only = (row for _, row in run)
                if name:
                    yield _item(table, name, only)
                else:
                    yield from _bad(table, only)
    finally:
        file.unlink(missing_ok=True)


def _fill(base: sqlite3.Connection, table: Table, rows: Iterator[Row]) -> None:
    """Rows under the number of their dossier; the sort itself is left to an index."""
    # Nothing here outlives the command: no journal, no waiting for the disk.
    for pragma in ("journal_mode=OFF", "synchronous=OFF", "cache_size=-65536"):
        base.execute(f"PRAGMA {pragma}")
    base.execute("CREATE TABLE dossiers (n INTEGER PRIMARY KEY, name TEXT UNIQUE)")
    base.execute("CREATE TABLE rows (dossier INTEGER, line INTEGER, cells TEXT)")
    column = _dossier_column(table.understood)
    while some := list(islice(rows, _INSERTED)):
        base.execute("BEGIN")
        named = [(_name(cells, column), line, json.dumps(cells)) for line, cells in some]
        base.executemany(
            "INSERT OR IGNORE INTO dossiers (name) VALUES (?)", [(name,) for name, _, _ in named]
        )
        base.executemany("INSERT INTO rows SELECT n, ?2, ?3 FROM dossiers WHERE name = ?1", named)
        base.execute("COMMIT")
    base.execute("CREATE INDEX by_dossier ON rows (dossier, line)")
