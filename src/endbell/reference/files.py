"""A pack's folder read into rows: nothing here knows what the rows mean.

``pack.toml`` has the head; every ``.toml`` file may hold ``[[table]]`` rows, every ``.csv`` file is
the table it is named after.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import cast

from .errors import PackProblem, PackUnreadable
from .lines import row_line
from .tables import TABLES

FORMAT = "endbell-pack/1"
HEAD = "pack.toml"
HEAD_KEYS = ("format", "id", "version", "title", "builds_on", "source", "confidence", "note")


@dataclass(frozen=True, slots=True)
class RawRow:
    """A row as it stands in its file. ``line``: known for CSV, found when asked for in TOML."""

    pack: str
    path: Path
    table: str
    number: int
    values: Mapping[str, object]
    line: int | None = None

    def place(self, key: str | None = None) -> int | None:
        """The line of the row, or of one of its keys in TOML."""
        if self.line is not None:
            return self.line
        text = self.path.read_text("utf-8")
        return row_line(text, self.table, self.number, key)

    def problem(self, found: str, accepted: str, key: str | None = None) -> PackProblem:
        """This row left out, and why."""
        line = self.place(key)
        return PackProblem(
            self.pack, str(self.path), self.table, self.number, line, found, accepted
        )


@dataclass(frozen=True, slots=True)
class RawPack:
    """All rows of one pack, and what could not be made out."""

    id: str
    version: str
    title: str
    builds_on: tuple[str, ...]
    sha256: str
    path: Path
    rows: tuple[RawRow, ...]
    problems: tuple[PackProblem, ...]


def pack_files(folder: Path) -> list[Path]:
    """The files that make up a pack, in the order in which they are read and hashed."""
    return sorted(f for f in folder.iterdir() if f.suffix in (".toml", ".csv") and f.is_file())


def read_pack(folder: Path) -> RawPack:
    """All rows of the pack in ``folder``; PackUnreadable where a file can't be parsed at all."""
    if not (folder / HEAD).is_file():
        raise PackUnreadable(str(folder), None, f"no {HEAD}", f"a folder with a {HEAD}")
    digest = hashlib.sha256()
    head: dict[str, object] = {}
    rows: list[RawRow] = []
    problems: list[PackProblem] = []
    for path in pack_files(folder):
        data = path.read_bytes()
        digest.update(f"{path.name}\0{len(data)}\0".encode())
        digest.update(data)
        text = _decode(path, data)
        if path.suffix == ".csv":
            _csv_rows(folder.name, path, text, rows, problems)
            continue
        parsed = _parse(path, text)
        if path.name == HEAD:
            head = {key: parsed.pop(key) for key in HEAD_KEYS if key in parsed}
        _toml_rows(folder.name, path, parsed, rows, problems)
    _check_head(folder, head)
    return RawPack(
        folder.name,
        str(head["version"]),
        str(head["title"]),
        tuple(cast("list[str]", head.get("builds_on", []))),
        digest.hexdigest(),
        folder,
        tuple(rows),
        tuple(problems),
    )


def read_head(folder: Path) -> tuple[str, str]:
    """Version and title of the pack in ``folder``, from its head alone."""
    path = folder / HEAD
    head = _parse(path, _decode(path, path.read_bytes()))
    return str(head.get("version", "")), str(head.get("title", ""))


def _decode(path: Path, data: bytes) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise PackUnreadable(str(path), line, "bytes that are not UTF-8", "UTF-8 text") from None


def _parse(path: Path, text: str) -> dict[str, object]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"at line (\d+)", str(error))
        line = int(at[1]) if at else None
        raise PackUnreadable(str(path), line, f"no TOML: {error}", "TOML 1.0") from None


def _check_head(folder: Path, head: Mapping[str, object]) -> None:
    file = str(folder / HEAD)
    for key in ("format", "id", "version", "title"):
        if not isinstance(head.get(key), str):
            raise PackUnreadable(file, None, f"{key} = {head.get(key)!r}", f"a text for '{key}'")
    if head["format"] != FORMAT:
        raise PackUnreadable(file, None, f"format '{head['format']}'", f"format '{FORMAT}'")
    if head["id"] != folder.name:
        accepted = f"id '{folder.name}', the name of its folder"
        raise PackUnreadable(file, None, f"id '{head['id']}'", accepted)
    builds_on = head.get("builds_on", [])
    items = cast("list[object]", builds_on) if isinstance(builds_on, list) else [None]
    if not all(isinstance(item, str) for item in items):
        raise PackUnreadable(file, None, f"builds_on = {builds_on!r}", "a list of pack ids")


def _toml_rows(
    pack: str,
    path: Path,
    parsed: Mapping[str, object],
    rows: list[RawRow],
    problems: list[PackProblem],
) -> None:
    for table, value in parsed.items():
        entries = cast("list[object]", value) if isinstance(value, list) else [value]
        known = table in TABLES
        for number, values in enumerate(entries, start=1):
            raw = RawRow(pack, path, table, number, {})
            if known and isinstance(value, list) and isinstance(values, dict):
                rows.append(RawRow(pack, path, table, number, cast("dict[str, object]", values)))
            elif known:
                problems.append(raw.problem(f"'{table}' that is no list", f"[[{table}]] rows"))
            else:
                problems.append(raw.problem(f"'{table}'", _tables_there_are()))


def _csv_rows(
    pack: str, path: Path, text: str, rows: list[RawRow], problems: list[PackProblem]
) -> None:
    table = path.stem
    if table not in TABLES:
        found = f"a file named '{path.name}'"
        problems.append(PackProblem(pack, str(path), table, None, None, found, _tables_there_are()))
        return
    reader = csv.reader(io.StringIO(text, newline=""))
    keys = [key.strip() for key in next(reader, list[str]())]
    number, line = 0, reader.line_num + 1
    for cells in reader:
        if cells:
            number += 1
            row = RawRow(pack, path, table, number, dict(zip(keys, cells, strict=False)), line)
            if len(cells) == len(keys):
                rows.append(row)
            else:
                problems.append(row.problem(f"{len(cells)} cells", f"{len(keys)} cells"))
        line = reader.line_num + 1


def _tables_there_are() -> str:
    return f"one of the tables {', '.join(TABLES)}"
