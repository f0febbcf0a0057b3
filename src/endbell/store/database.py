"""Opening the shop's database: SQLite in a folder, or PostgreSQL by its URL.

SQLite runs with a write-ahead log, every commit flushed to the disk, foreign keys on, and waits
for a lock instead of failing.  Writers are let in one at a time.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event

FILE = "endbell.sqlite"
BUSY_SECONDS = 30

_WRITES, _ALONE = "endbell_writes", "endbell_alone"


class DatabaseError(Exception):
    """The database can't be used; the sentence says why and what would do."""


@dataclass(frozen=True, eq=False)
class Database:
    """An open database and the folder in which its photos lie.

    ``recorded``: how often this process has recorded something in a stream, for streams that
    somebody keeps an eye on.
    """

    engine: Engine
    folder: Path
    lock: threading.RLock = field(default_factory=threading.RLock)
    recorded: Counter[str] = field(default_factory=Counter[str])

    @property
    def is_sqlite(self) -> bool:
        return self.engine.dialect.name == "sqlite"

    def close(self) -> None:
        """Give all connections back."""
        self.engine.dispose()


def connect(folder: Path, url: str | None = None) -> Database:
    """The database of ``url``, or the SQLite file in ``folder``; the tables may be missing yet."""
    folder.mkdir(parents=True, exist_ok=True)
    if url is not None and not url.startswith("sqlite"):
        return Database(create_engine(_with_driver(url), pool_size=10, max_overflow=20), folder)
    engine = create_engine(
        url or f"sqlite:///{folder / FILE}",
        connect_args={"timeout": BUSY_SECONDS, "check_same_thread": False},
        pool_size=10,
        max_overflow=30,
    )
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    return Database(engine, folder)


@contextmanager
def reading(db: Database) -> Iterator[Connection]:
    """A transaction that sees one state of the database and changes nothing."""
    with db.engine.connect() as connection, connection.begin():
        yield connection


@contextmanager
def glancing(db: Database) -> Iterator[Connection]:
    """For one statement, which sees one state by itself: it goes without a transaction round it,
    two round trips less.
    """
    how: dict[str, Any] = {_ALONE: True} if db.is_sqlite else {"isolation_level": "AUTOCOMMIT"}
    with db.engine.connect() as connection:
        yield connection.execution_options(**how)


@contextmanager
def writing(db: Database) -> Iterator[Connection]:
    """A transaction that writes: all of it or nothing, one writer after the other."""
    if not db.is_sqlite:
        with db.engine.begin() as connection:
            yield connection
        return
    with db.lock, db.engine.connect() as connection:
        connection = connection.execution_options(**{_WRITES: True})
        with connection.begin():
            yield connection


def _with_driver(url: str) -> str:
    """A PostgreSQL URL with the driver that Endbell brings."""
    for plain in ("postgresql://", "postgres://"):
        if url.startswith(plain):
            return "postgresql+psycopg://" + url.removeprefix(plain)
    return url


def _set_up(connection: object, record: object) -> None:
    # the driver must not open transactions of its own: _begin does, and says of which kind
    connection.isolation_level = None  # type: ignore[attr-defined]
    cursor = connection.cursor()  # type: ignore[attr-defined]
    for pragma in (
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
        f"busy_timeout={BUSY_SECONDS * 1000}",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin(connection: Connection) -> None:
    options = connection.get_execution_options()
    if options.get(_ALONE, False):
        return
    writes = options.get(_WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
