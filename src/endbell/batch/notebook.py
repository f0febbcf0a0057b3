"""One SQLite file in which a long work keeps what is done; whole or not there, whatever ends it."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

from .errors import FolderInUse, OtherFolder

_ABOUT = "CREATE TABLE IF NOT EXISTS about (name TEXT PRIMARY KEY, value TEXT) WITHOUT ROWID;"


class Notebook:
    """While it is open for writing no other command can open it.

    Raises :class:`FolderInUse` where one has, :class:`OtherFolder` where the file is something
    else or of another form.
    """

    FILE: str
    FORM: str
    COMMAND: str
    """The command whose work is kept: 'endbell batch'."""
    TABLES: str

    def __init__(self, folder: Path, *, read_only: bool = False) -> None:
        self.folder = folder
        self.file = folder / self.FILE
        if read_only and not self.file.is_file():
            raise OtherFolder(f"{folder}: no output of '{self.COMMAND}' lies there")
        try:
            if read_only:
                self._base = sqlite3.connect(f"{self.file.resolve().as_uri()}?mode=ro", uri=True)
            else:
                self._base = sqlite3.connect(self.file, isolation_level=None, timeout=0.2)
                self._base.execute("PRAGMA locking_mode=EXCLUSIVE")
                self._base.execute("PRAGMA synchronous=NORMAL")
                self._base.execute("BEGIN EXCLUSIVE")
                self._base.execute("COMMIT")
                self._base.executescript(_ABOUT + self.TABLES)
            found = self.about("format")
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                raise FolderInUse(
                    f"{folder}: another endbell is at work there; wait for it or name another"
                    " folder"
                ) from None
            raise self._other(error) from None
        except sqlite3.DatabaseError as error:
            raise self._other(error) from None
        if found not in (None, self.FORM):
            raise OtherFolder(f"{self.file}: its form is {found}; this Endbell reads {self.FORM}")
        if not read_only:
            self.tell("format", self.FORM)

    def _other(self, error: sqlite3.Error) -> OtherFolder:
        return OtherFolder(f"{self.file}: not kept by '{self.COMMAND}' ({error})")

    def close(self) -> None:
        """Let others in."""
        self._base.close()

    def about(self, name: str) -> Any:
        """Something noted about the work, or None."""
        found = self._base.execute("SELECT value FROM about WHERE name = ?", (name,)).fetchone()
        return None if found is None else json.loads(found[0])

    def tell(self, name: str, value: Any) -> None:
        """Note something about the work (anything that JSON can say)."""
        self._base.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (name, json.dumps(value)))
