"""What can go wrong with packs: the errors that stop, and the record of a row that does not.

PackError
├── PackNotFound     no pack of that id; names those there are
└── PackUnreadable   a file of the pack can't be parsed at all, or its head can't be used
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class PackError(Exception):
    """A pack that can't be used; the message is a sentence for the person at the bench."""


class PackNotFound(PackError):
    """No pack of this id where packs are looked for."""

    def __init__(self, pack: str, known: Sequence[str]) -> None:
        self.pack = pack
        self.known = tuple(known)
        super().__init__(f"there is no reference pack '{pack}'; there are: {', '.join(known)}")


class PackUnreadable(PackError):
    """A file that can't be parsed, or a head that can't be used: where, found, accepted."""

    def __init__(self, file: str, line: int | None, found: str, accepted: str) -> None:
        self.file = file
        self.line = line
        self.found = found
        self.accepted = accepted
        place = file if line is None else f"{file}, line {line}"
        super().__init__(f"{place}: {found}; accepted: {accepted}")


@dataclass(frozen=True, slots=True)
class PackProblem:
    """A row that was left out: its file, table and number (from 1), line, found and accepted.

    ``number`` and ``line`` are None where the trouble is with a whole file.
    """

    pack: str
    file: str
    table: str
    number: int | None
    line: int | None
    found: str
    accepted: str

    def __str__(self) -> str:
        where = self.file
        if self.line is not None:
            where += f", line {self.line}"
        if self.number is not None:
            where += f" ({self.table} {self.number})"
        return f"{where}: found {self.found}; accepted: {self.accepted}"
