"""Naming source numbers in a shop's own pack, as they come up at the bench.

No register of real source numbers is shipped; each name is a fact that the shop has typed. Names go
into ``source_number.csv`` of the shop's pack; everything that stands there is left as it is.
"""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from .cells import Cells
from .errors import PackError
from .files import FORMAT, HEAD, RawRow, read_pack

TABLE = "source_number"
COLUMNS = ("number", "name", "source", "confidence")
SHOP = "shop records"
NUMBER = re.compile(r"\d{2,4}")
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


class SourceNameTaken(PackError):
    """The shop's pack already has another name for the number; nothing was written."""

    def __init__(self, taken: Taken) -> None:
        self.taken = taken
        super().__init__(str(taken))


@dataclass(frozen=True, slots=True)
class Taken:
    """A number that already has another name: which, where."""

    number: str
    name: str
    there: str
    file: str
    line: int | None

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        return f"source {self.number} is already named '{self.there}' ({place}), not '{self.name}'"


def name_source(pack_dir: Path, number: str, name: str, *, source: str = SHOP) -> Path:
    """Write the name of one source number into the shop's pack and return the file.

    The pack is created if it is missing. A number that already has this name is left alone; one
    with another name raises SourceNameTaken. ValueError for a number that isn't two to four digits,
    an empty name, or a folder whose name can't be a pack id.
    """
    taken = name_sources(pack_dir, [(number, name)], source=source)
    if taken:
        raise SourceNameTaken(taken[0])
    return pack_dir / f"{TABLE}.csv"


def name_sources(
    pack_dir: Path, names: Sequence[tuple[str, str]], *, source: str = SHOP
) -> tuple[Taken, ...]:
    """As :func:`name_source` for many; numbers with another name are returned, not written."""
    for number, name in names:
        if not NUMBER.fullmatch(number):
            raise ValueError(f"source number {number!r}: two to four digits are accepted")
        if not name.strip():
            raise ValueError(f"source number {number}: a name is needed")
    _create(pack_dir)
    there = named(pack_dir)
    taken: list[Taken] = []
    fresh: dict[str, str] = {}
    for number, raw_name in names:
        name = raw_name.strip()
        row = there.get(number)
        known = fresh.get(number) if row is None else Cells(row.values).text("name", "")
        if known is None:
            fresh[number] = name
        elif known != name:
            path = row.path if row else pack_dir / f"{TABLE}.csv"
            taken.append(Taken(number, name, known, str(path), row.place() if row else None))
    if fresh:
        _append(pack_dir / f"{TABLE}.csv", fresh, source)
    return tuple(taken)


def named(pack_dir: Path) -> dict[str, RawRow]:
    """The rows of the shop's pack that name a source number, by number."""
    rows = (row for row in read_pack(pack_dir).rows if row.table == TABLE)
    return {str(row.values.get("number", "")): row for row in rows}


def _create(pack_dir: Path) -> None:
    if not _ID.fullmatch(pack_dir.name):
        raise ValueError(f"{pack_dir.name!r}: letters, digits, '-', '.' and '_' make a pack's id")
    head = pack_dir / HEAD
    if head.exists():
        return
    pack_dir.mkdir(parents=True, exist_ok=True)
    head.write_text(
        f'# The shop\'s own reference: what it has found out for itself.\nformat = "{FORMAT}"\n'
        f'id = "{pack_dir.name}"\nversion = "1"\ntitle = "The shop\'s own reference"\n'
        f'source = "{SHOP}"\nconfidence = "{SHOP}"\n',
        "utf-8",
    )


def _append(path: Path, names: dict[str, str], source: str) -> None:
    """Add rows under the columns the file has; the whole file is put in place at once."""
    before = path.read_bytes().decode("utf-8-sig") if path.exists() else ""
    columns = [cell.strip() for cell in next(csv.reader(io.StringIO(before)), list(COLUMNS))]
    end = "\r\n" if "\r\n" in before else "\n"
    out = io.StringIO()
    writer = csv.writer(out, lineterminator=end)
    if not before:
        writer.writerow(columns)
    elif not before.endswith("\n"):
        out.write(end)
    for number, name in names.items():
        row = {"number": number, "name": name, "source": source, "confidence": SHOP}
        writer.writerow([row.get(column, "") for column in columns])
    fresh = path.with_suffix(".csv.new")
    fresh.write_bytes((before + out.getvalue()).encode("utf-8"))
    os.replace(fresh, path)
