"""One dossier on its way to a worker: as the bytes of a file, as rows of a table, or as a fault."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

Rows = tuple[tuple[int, tuple[str, ...]], ...]
"""Rows of a table: the line each begins on, and its cells."""


@dataclass(frozen=True, slots=True)
class FileItem:
    """A dossier file; ``data`` is cut one byte past the size that a dossier may have."""

    file: str
    data: bytes


@dataclass(frozen=True, slots=True)
class RowsItem:
    """The rows of one dossier in a table.  ``fields``: what each column is, '' where not used.

    ``dossier`` is empty for rows that name none: they are bad rows, and no verdict comes of them.
    """

    file: str
    dossier: str
    fields: tuple[str, ...]
    rows: Rows


@dataclass(frozen=True, slots=True)
class FaultItem:
    """Something in the place of a dossier that can't be read at all; ``sentence`` says why."""

    file: str
    sentence: str


@dataclass(frozen=True, slots=True)
class BadRow:
    """A row that is not weighed: where, what was found, what would be accepted."""

    file: str
    dossier: str
    header: str
    table: int | None
    line: int | None
    found: str
    accepted: str


@dataclass(frozen=True, slots=True)
class BadRowsItem:
    """Rows of a table that could not be read as rows at all."""

    file: str
    rows: tuple[BadRow, ...]


Item = FileItem | RowsItem | FaultItem | BadRowsItem


def digest(item: Item) -> bytes:
    """What an item says, in 16 bytes: equal for equal items, whatever run they come from."""
    h = hashlib.blake2b(digest_size=16)
    match item:
        case FileItem():
            h.update(b"file\0%b\0" % item.file.encode("utf-8", "surrogateescape"))
            h.update(item.data)
        case RowsItem():
            head = "\0".join((item.file, item.dossier, *item.fields))
            h.update(b"rows\0%b\0" % head.encode("utf-8", "surrogatepass"))
            for line, cells in item.rows:
                text = "\x1f".join((str(line), *cells))
                h.update(text.encode("utf-8", "surrogatepass"))
                h.update(b"\x1e")
        case _:
            h.update(repr(item).encode("utf-8", "surrogatepass"))
    return h.digest()
