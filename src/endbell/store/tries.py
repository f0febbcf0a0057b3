"""How often a sign-in failed, for an account's name and for an address: the next has to wait.

Names are counted whether there is such an account or not, so that waiting tells nothing.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta

from sqlalchemy import delete, insert, select, update

from .account_tables import tries
from .accounts import folded, log, stamp
from .database import Database, reading, writing

FREE = 4
"""Failures that cost nothing: people mistype."""

LONGEST = timedelta(minutes=15)
FREE_OF_ADDRESS = 20
"""An address may stand for a whole shop."""

FORGOTTEN = timedelta(hours=24)


class Waiting(Exception):
    """Too many failures; ``seconds`` are to be waited."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"too many attempts failed; accepted: another in {_said(seconds)}")
        self.seconds = seconds


def let_in(db: Database, name: str, address: str, now: datetime | None = None) -> None:
    """Raise :class:`Waiting` where the next attempt has to wait."""
    at = now or datetime.now(UTC)
    with reading(db) as connection:
        found = connection.execute(select(tries).where(tries.c.what.in_(_both(name, address))))
        rows = {row.what: row for row in found}
    left = 0.0
    for what, free in _both(name, address).items():
        row = rows.get(what)
        if row is None:
            continue
        since = at - datetime.fromisoformat(row.last_at)
        left = max(left, (delay(row._mapping["count"], free) - since).total_seconds())
    if left > 0:
        raise Waiting(int(left) + 1)


def failed(db: Database, name: str, address: str, now: datetime | None = None) -> None:
    """Count a failure."""
    at = now or datetime.now(UTC)
    with writing(db) as connection:
        connection.execute(delete(tries).where(tries.c.last_at < stamp(at - FORGOTTEN)))
        for what in _both(name, address):
            row = connection.execute(select(tries).where(tries.c.what == what)).first()
            if row is None:
                connection.execute(insert(tries).values(what=what, count=1, last_at=stamp(at)))
                continue
            connection.execute(
                update(tries)
                .where(tries.c.what == what)
                .values(count=tries.c.count + 1, last_at=stamp(at))
            )
        log(connection, "sign-in-failed", address=address, now=at)


def succeeded(db: Database, name: str, address: str) -> None:
    """Forget the failures of the name; those of the address stay until they are old."""
    what = next(iter(_both(name, address)))
    with reading(db) as connection:
        if connection.execute(select(tries.c.what).where(tries.c.what == what)).first() is None:
            return
    with writing(db) as connection:
        connection.execute(delete(tries).where(tries.c.what == what))


def delay(count: int, free: int) -> timedelta:
    """What has to be waited after ``count`` failures: doubling from a second on."""
    if count <= free:
        return timedelta()
    return min(timedelta(seconds=2 ** min(count - free - 1, 12)), LONGEST)


def _both(name: str, address: str) -> dict[str, int]:
    """What is counted, hashed (a password typed as a name is not kept), and what is free."""
    account = hashlib.sha256(f"account:{folded(name)}".encode()).hexdigest()
    place = hashlib.sha256(f"address:{address}".encode()).hexdigest()
    return {account: FREE, place: FREE_OF_ADDRESS}


def _said(seconds: int) -> str:
    if seconds < 90:
        return f"{seconds} second{'s' if seconds > 1 else ''}"
    return f"{round(seconds / 60)} minutes"
