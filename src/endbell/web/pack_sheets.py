"""Reference packs as a reader leafs through them: rows with their place, source and confidence.

Read from the packs' own files, because a merged reference no longer knows where a row is from.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from ..reference import PackError, PackProblem
from ..reference.cells import split_list
from ..reference.combine import ALWAYS, SHIPPED, find_pack, load_packs
from ..reference.load import Pack, Row, load_pack
from ..reference.tables import TABLES, Table

SAID_APART = ("source", "confidence", "how", "note")


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A row as it stands in its file.  ``cells`` leaves out where it is from, which stands apart.

    ``value``: what the row means, as the reference has it; ``key``: rows of one key belong
    together, and a later pack's replace them.
    """

    pack: str
    file: str
    table: str
    number: int
    line: int | None
    cells: Mapping[str, str]
    source: str
    confidence: str
    how: str
    note: str
    value: Any
    key: str

    @property
    def anchor(self) -> str:
        """Where on its table's page the row stands."""
        return f"{self.file.replace('.', '-')}-{self.table}-{self.number}"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One pack.  ``broken``: why none of it can be used, empty where it can."""

    id: str
    version: str
    title: str
    builds_on: tuple[str, ...]
    shipped: bool
    always: bool
    rows: tuple[SheetRow, ...]
    problems: tuple[PackProblem, ...]
    files: tuple[str, ...]
    broken: str = ""

    def of(self, table: str) -> tuple[SheetRow, ...]:
        """The rows of one table, in order."""
        return tuple(row for row in self.rows if row.table == table)

    @property
    def tables(self) -> dict[str, int]:
        """How many rows each table has, in the order of the tables."""
        counts = dict.fromkeys(TABLES, 0)
        for row in self.rows:
            counts[row.table] += 1
        return {name: count for name, count in counts.items() if count}


def sheet_of(pack: str, search: Sequence[Path] = ()) -> Sheet:
    """The sheet of a pack.  Raises PackNotFound; a pack that can't be read is ``broken``."""
    folder = find_pack(pack, search)
    return _read(folder)


def _read(folder: Path) -> Sheet:
    shipped = folder.parent == SHIPPED
    files = tuple(sorted(f.name for f in folder.iterdir() if f.suffix in (".toml", ".csv")))
    always = folder.name in ALWAYS
    try:
        pack = load_pack(folder, strict=not shipped)
    except PackError as error:
        said = str(error).replace(f"{folder}/", "")
        return Sheet(folder.name, "", folder.name, (), shipped, always, (), (), files, said)
    raw = pack.raw
    rows = tuple(rows_of(pack))
    return Sheet(
        raw.id, raw.version, raw.title, raw.builds_on, shipped, always, rows, pack.problems, files
    )


def rows_of(pack: Pack) -> Iterable[SheetRow]:
    """The usable rows of a pack."""
    return (_sheet_row(row) for row in pack.rows)


def rows_in_force(pack: str, search: Sequence[Path] = ()) -> tuple[SheetRow, ...]:
    """The rows that hold where ``pack`` is in force: its own and those below that it leaves alone.

    Raises PackError.
    """
    packs = load_packs((pack,), search)
    owner: dict[tuple[str, object], str] = {}
    for loaded in packs:
        for row in loaded.rows:
            owner[row.table, _key(row)] = loaded.raw.id
    return tuple(
        _sheet_row(row)
        for loaded in packs
        for row in loaded.rows
        if owner[row.table, _key(row)] == loaded.raw.id
    )


def replaced_by(row: SheetRow, below: Iterable[SheetRow]) -> tuple[SheetRow, ...]:
    """The rows of packs below whose place ``row`` takes."""
    return tuple(
        other
        for other in below
        if other.pack != row.pack and (other.table, other.key) == (row.table, row.key)
    )


def cell_text(value: object) -> str:
    """A cell as CSV writes it: lists 'a;b', pairs 'W=alnico;Z=ceramic', flags 'true'."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return ";".join(str(one) for one in cast("list[object]", value))
    if isinstance(value, Mapping):
        pairs = cast("Mapping[object, object]", value)
        return ";".join(f"{name}={meaning}" for name, meaning in pairs.items())
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def models_of(row: SheetRow) -> tuple[str, ...]:
    """The models that a row names; empty: all models of its pack."""
    return split_list(row.cells.get("models", ""))


def _key(row: Row) -> object:
    table: Table[object] = TABLES[row.table]
    return table.key(row.value)


def _sheet_row(row: Row) -> SheetRow:
    raw = row.raw
    cells = {key: cell_text(value) for key, value in raw.values.items()}
    apart = {name: cells.pop(name, "") for name in SAID_APART}
    return SheetRow(
        raw.pack,
        raw.path.name,
        raw.table,
        raw.number,
        raw.place(),
        cells,
        apart["source"],
        apart["confidence"],
        apart["how"],
        apart["note"],
        row.value,
        key_text(_key(row)),
    )


def key_text(key: object) -> str:
    """A key as it can stand in an address; keys that differ stay different."""
    if isinstance(key, tuple):
        return "~".join(key_text(part) for part in cast("tuple[object, ...]", key))
    return str(key)
