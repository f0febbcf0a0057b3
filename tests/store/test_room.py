"""A full disk: a clear error, nothing half recorded, and the same entry recorded once afterwards."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import event
from sqlalchemy.exc import OperationalError

from endbell.store import Database, append, events_of, new_id, open_database, state_of
from endbell.store.doctor import examine

from .shops import BY, book_in, mark


@contextmanager
def full(db: Database) -> Iterator[None]:
    """The file of the database may not grow, as if its disk were full."""

    def allow(connection: object, pages: str) -> None:
        cursor = connection.cursor()  # type: ignore[attr-defined]
        (there,) = cursor.execute("PRAGMA page_count").fetchone()
        cursor.execute(f"PRAGMA max_page_count={pages.format(there=there)}")
        cursor.close()

    def stop(connection: object, *_: object) -> None:
        allow(connection, "{there}")

    event.listen(db.engine, "checkout", stop)
    try:
        yield
    finally:
        event.remove(db.engine, "checkout", stop)
        event.listen(db.engine, "checkout", lambda connection, *_: allow(connection, "1000000"))


def until_full(enter: Callable[[int], object]) -> int:
    """Enter until there is no room; how many were acknowledged."""
    for n in range(1_000):
        try:
            enter(n)
        except OperationalError as error:
            assert "disk is full" in str(error.orig)
            return n
    pytest.fail("the database grew without end")


def test_nothing_is_half_recorded_and_the_same_key_is_recorded_once(tmp_path: Path) -> None:
    db = open_database(tmp_path)
    dossier = book_in(db, "TRV-1")
    keys = [new_id() for _ in range(1_000)]
    changes = [mark("ot", f"993-{n:03d}", note="x" * 900) for n in range(1_000)]

    def enter(n: int) -> None:
        append(db, dossier, [changes[n]], by=BY, key=keys[n])

    with full(db):
        done = until_full(enter)
        assert done > 0
        assert len(state_of(db, dossier).standing) == done
        assert until_full(lambda _: enter(done)) == 0
    for n in (done, done, done + 1):  # there is room again
        enter(n)
    texts = [m.row["text"] for m in state_of(db, dossier).standing]
    assert texts == [f"993-{n:03d}" for n in range(done + 2)]
    assert len(events_of(db, dossier)) == done + 3
    assert examine(db) == ()
    db.close()
