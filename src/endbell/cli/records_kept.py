"""The folder in which a learning run keeps its dossiers and its sums: what is done is done once."""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from ..batch.notebook import Notebook

_TABLES = """
CREATE TABLE IF NOT EXISTS reads (key BLOB PRIMARY KEY);
CREATE TABLE IF NOT EXISTS patterns (
    digest BLOB PRIMARY KEY, packs TEXT NOT NULL, day TEXT NOT NULL, made TEXT NOT NULL,
    times INTEGER NOT NULL, text BLOB NOT NULL
);
CREATE TABLE IF NOT EXISTS faults (n INTEGER PRIMARY KEY, sentence TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS sums (key BLOB PRIMARY KEY, value BLOB NOT NULL, serials BLOB NOT NULL);
"""


@dataclass(frozen=True, slots=True)
class Found:
    """A dossier as read: the digest of its pattern, what it is weighed with, its text."""

    digest: bytes
    packs: tuple[str, ...]
    day: str
    made: str
    text: bytes


@dataclass(frozen=True, slots=True)
class Kept:
    """One pattern: how often it comes, and a dossier that bears it."""

    digest: bytes
    times: int
    text: bytes


class Store(Notebook):
    """The notebook of one learning run."""

    FILE = "learning.sqlite"
    FORM = "endbell-learning/1"
    COMMAND = "endbell learn"
    TABLES = _TABLES

    def begin(self, settings: dict[str, Any]) -> None:
        """Start afresh unless the folder belongs to a run with the same settings."""
        if self.about("settings") != settings:
            for table in ("reads", "patterns", "faults", "sums"):
                self._base.execute(f"DELETE FROM {table}")
            self.tell("settings", settings)

    # ---- dossiers

    def was_read(self, key: bytes) -> bool:
        """Whether a chunk of dossiers has been read."""
        found = self._base.execute("SELECT 1 FROM reads WHERE key = ?", (key,)).fetchone()
        return found is not None

    def keep_read(self, key: bytes, found: Iterable[Found], faults: Iterable[str]) -> None:
        """Keep a chunk's dossiers; equal patterns are counted, not kept again."""
        rows = [
            (f.digest, json.dumps(f.packs), f.day, f.made, zlib.compress(f.text)) for f in found
        ]
        self._base.execute("BEGIN")
        self._base.executemany(
            "INSERT INTO patterns VALUES (?, ?, ?, ?, 1, ?) "
            "ON CONFLICT (digest) DO UPDATE SET times = times + 1",
            rows,
        )
        self._base.executemany(
            "INSERT INTO faults (sentence) VALUES (?)", [(said,) for said in faults]
        )
        self._base.execute("INSERT OR REPLACE INTO reads VALUES (?)", (key,))
        self._base.execute("COMMIT")

    def faults(self, most: int) -> tuple[int, list[str]]:
        """How many files could not be used, and what was said of the first."""
        (n,) = self._base.execute("SELECT count(*) FROM faults").fetchone()
        rows = self._base.execute("SELECT sentence FROM faults ORDER BY n LIMIT ?", (most,))
        return n, [said for (said,) in rows]

    def counts(self) -> tuple[int, int]:
        """Dossiers, and different patterns among them."""
        asked = "SELECT coalesce(sum(times), 0), count(*) FROM patterns"
        return self._base.execute(asked).fetchone()

    def days(self) -> tuple[str, str]:
        """The first and the last ``as_of``."""
        return self._base.execute("SELECT min(day), max(day) FROM patterns").fetchone()

    def packs(self) -> list[tuple[str, ...]]:
        """Every set of packs that a dossier names."""
        rows = self._base.execute("SELECT DISTINCT packs FROM patterns ORDER BY packs")
        return [tuple(json.loads(packs)) for (packs,) in rows]

    def chunks(self, size: int, first: int | None = None) -> Iterator[list[Kept]]:
        """All patterns, or the ``first`` by digest (as good as drawn at random), in chunks; those
        weighed with the same tables come together.
        """
        where, values = "", tuple[Any, ...]()
        if first is not None:
            asked = "SELECT digest FROM patterns ORDER BY digest LIMIT 1 OFFSET ?"
            found = self._base.execute(asked, (first,)).fetchone()
            if found is not None:
                where, values = "WHERE digest < ?", found
        rows = self._base.execute(
            f"SELECT digest, times, text FROM patterns {where} ORDER BY packs, day, made, digest",
            values,
        )
        while several := rows.fetchmany(size):
            yield [Kept(digest, times, zlib.decompress(text)) for digest, times, text in several]

    # ---- sums

    def sums(self, key: bytes) -> tuple[bytes, bytes] | None:
        """The sums of a chunk and its serial numbers, if it was weighed before."""
        asked = "SELECT value, serials FROM sums WHERE key = ?"
        return self._base.execute(asked, (key,)).fetchone()

    def keep_sums(self, key: bytes, value: bytes, serials: bytes) -> None:
        """Keep a chunk's sums; they are on the disk when this returns."""
        self._base.execute("INSERT OR REPLACE INTO sums VALUES (?, ?, ?)", (key, value, serials))

    def all_sums(self, keys: Sequence[bytes]) -> Iterator[tuple[bytes, bytes]]:
        """The sums of chunks, in the order given."""
        for key in keys:
            found = self.sums(key)
            assert found is not None
            yield found

    def remove(self) -> None:
        """Take the file away, and the folder if nothing else lies in it."""
        self.close()
        self.file.unlink(missing_ok=True)
        if not any(self.folder.iterdir()):
            self.folder.rmdir()
