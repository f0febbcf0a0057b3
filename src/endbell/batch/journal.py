"""What is done, kept in one SQLite file beside the results: every finished chunk with its rows.

A chunk is known by what its dossiers say and by all else that its verdicts depend on: assumptions,
packs put in force, the day, the code.  The packs that its dossiers name are compared when it is
taken up again.  A chunk stands in the file whole or not at all, whatever kills the command.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from hashlib import blake2b
from pathlib import Path
from typing import Any

from .code import made_by
from .notebook import Notebook
from .packs import Packs, Settings, Stamps
from .weigher import Weighed, unpacked

FILE = "journal.sqlite"
FORMAT = "endbell-batch/1"

_TABLES = """
CREATE TABLE IF NOT EXISTS chunks (
  key TEXT PRIMARY KEY, dossiers INTEGER, errors INTEGER, remarked INTEGER, bad_rows INTEGER,
  lost INTEGER, asked TEXT, block BLOB
);
CREATE TABLE IF NOT EXISTS line (n INTEGER PRIMARY KEY, key TEXT);
"""


@dataclass(frozen=True, slots=True)
class Done:
    """What the journal knows of a finished chunk, without its rows."""

    dossiers: int
    errors: int
    remarked: int
    bad_rows: int
    lost: int
    asked: tuple[tuple[tuple[str, ...], Stamps], ...]


class Journal(Notebook):
    """The journal of one output folder."""

    FILE = FILE
    FORM = FORMAT
    COMMAND = "endbell batch"
    TABLES = _TABLES

    # ---- chunks

    def done(self, key: str, packs: Packs) -> Done | None:
        """What is known of a chunk, if it is finished and the packs it used are still the same."""
        found = self._base.execute(
            "SELECT dossiers, errors, remarked, bad_rows, lost, asked FROM chunks WHERE key = ?",
            (key,),
        ).fetchone()
        if found is None:
            return None
        done = Done(found[0], found[1], found[2], found[3], found[4], _asked(found[5]))
        if done.lost or any(packs.stamps(names) != stamps for names, stamps in done.asked):
            return None
        return done

    def other_packs(self, key: str, packs: Packs) -> bool:
        """Whether a chunk is finished, but with other packs than are in force now."""
        found = self._base.execute("SELECT asked FROM chunks WHERE key = ?", (key,)).fetchone()
        return found is not None and any(
            packs.stamps(names) != stamps for names, stamps in _asked(found[0])
        )

    def add(self, key: str, weighed: Weighed) -> None:
        """Keep a finished chunk; it is on the disk when this returns."""
        self._base.execute(
            "INSERT OR REPLACE INTO chunks VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                key,
                weighed.dossiers,
                weighed.errors,
                weighed.remarked,
                weighed.bad_rows,
                weighed.lost,
                json.dumps(weighed.asked),
                weighed.block,
            ),
        )

    def finished(self, keys: Iterable[str] | None = None) -> int:
        """How many dossiers lie in finished chunks: in all of them, or in these."""
        if keys is None:
            asked = "SELECT coalesce(sum(dossiers), 0) FROM chunks"
            return self._base.execute(asked).fetchone()[0]
        asked = "SELECT coalesce(sum(dossiers), 0) FROM chunks WHERE key = ?"
        return sum(self._base.execute(asked, (key,)).fetchone()[0] for key in keys)

    # ---- the order of the input

    def line_up(self, keys: Sequence[str]) -> int:
        """The chunks of the input, in order; those of an earlier run are dropped with their rows.

        From then on the journal speaks of this input alone.  How many dossiers were dropped.
        """
        stale = "FROM chunks WHERE key NOT IN (SELECT key FROM line)"
        self._base.execute("BEGIN")
        self._base.execute("DELETE FROM line")
        self._base.executemany("INSERT INTO line VALUES (?, ?)", enumerate(keys))
        (gone,) = self._base.execute(f"SELECT coalesce(sum(dossiers), 0) {stale}").fetchone()
        self._base.execute(f"DELETE {stale}")
        self._base.execute("COMMIT")
        if gone:
            self._base.execute("VACUUM")
        return gone

    def blocks(self) -> Iterator[bytes]:
        """The blocks of the chunks in the order of the input."""
        for (block,) in self._base.execute(
            "SELECT c.block FROM line l JOIN chunks c USING (key) ORDER BY l.n"
        ):
            yield block

    def rows(self) -> Iterator[list[Any]]:
        """The rows of the verdicts, in the order of the input."""
        for block in self.blocks():
            yield from unpacked(block)[0]

    def asked(self) -> dict[tuple[str, ...], Stamps]:
        """Every list of packs that a dossier of the input asked for, and what was in force."""
        found = self._base.execute(
            "SELECT DISTINCT c.asked FROM line l JOIN chunks c USING (key) ORDER BY l.n"
        )
        return {names: stamps for (text,) in found for names, stamps in _asked(text)}


def seed(source: Path, target: Path) -> None:
    """Let a new output folder begin with the chunks of another: what still holds is not redone."""
    if is_journal(target):
        return
    target.mkdir(parents=True, exist_ok=True)
    part = target / (FILE + ".part")
    shutil.copyfile(source / FILE, part)
    with closing(sqlite3.connect(part, isolation_level=None)) as base:
        base.execute("DELETE FROM about WHERE name NOT IN ('format', 'chunk_size')")
        base.execute("DELETE FROM line")
    os.replace(part, target / FILE)


def key_of(content: str, settings: Settings) -> str:
    """The key of a chunk: what it says, and all that its verdicts depend on but its own packs."""
    told = (made_by(), FORMAT, settings.packs, sorted(settings.assume), settings.day)
    return blake2b(f"{content}{told!r}".encode(), digest_size=16).hexdigest()


def is_journal(folder: Path) -> bool:
    """Whether ``folder`` holds the output of a batch."""
    return os.path.isfile(folder / FILE)


def _asked(text: str) -> tuple[tuple[tuple[str, ...], Stamps], ...]:
    return tuple(
        (tuple(names), tuple((i, v, s) for i, v, s in stamps)) for names, stamps in json.loads(text)
    )
