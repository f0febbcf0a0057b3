"""Links that open something once and soon expire: a new password, a phone that signs in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Row, insert, select, update

from .account_tables import accounts, links
from .accounts import at_most, log, stamp
from .append import new_id
from .database import Database, glancing, writing
from .sessions import hashed, secret

PASSWORD, PAIRING = "password", "pairing"
LIFE = {PASSWORD: timedelta(hours=24), PAIRING: timedelta(minutes=5)}


@dataclass(frozen=True, slots=True)
class Link:
    """A link that still opens.  ``name``: of the account; ``role``: what a phone may do with it."""

    id: str
    account: str
    name: str
    role: str
    ends_at: str


def make_link(
    db: Database, purpose: str, account: str, role: str, *, by: str, now: datetime | None = None
) -> tuple[str, str]:
    """A new link: its secret, and when it expires.  Earlier ones for the same no longer open."""
    at = now or datetime.now(UTC)
    token, ends = secret(), stamp(at + LIFE[purpose])
    with writing(db) as connection:
        connection.execute(
            update(links)
            .where((links.c.account == account) & (links.c.purpose == purpose))
            .where(links.c.used_at.is_(None))
            .values(used_at=stamp(at))
        )
        connection.execute(
            insert(links).values(
                id=new_id(),
                secret=hashed(token),
                purpose=purpose,
                account=account,
                role=role,
                made_by=by,
                made_at=stamp(at),
                ends_at=ends,
            )
        )
        log(connection, f"{purpose}-link-made", who=by, about=account, now=at)
    return token, ends


def link_of(db: Database, purpose: str, token: str, now: datetime | None = None) -> Link | None:
    """The link with that secret while it opens."""
    with glancing(db) as connection:
        row = connection.execute(_opening(purpose, token, now)).first()
    return _link(row) if row else None


def use_link(db: Database, purpose: str, token: str, now: datetime | None = None) -> Link | None:
    """Use the link up; None where it does not open (any more)."""
    with writing(db) as connection:
        row = connection.execute(_opening(purpose, token, now)).first()
        if row is None:
            return None
        done = connection.execute(
            update(links)
            .where((links.c.id == row.id) & links.c.used_at.is_(None))
            .values(used_at=stamp(now))
        )
        if not done.rowcount:  # in PostgreSQL somebody else may have been quicker
            return None
        log(connection, f"{purpose}-link-used", who=row.account, now=now)
    return _link(row)


def _opening(purpose: str, token: str, now: datetime | None) -> Any:
    return (
        select(links, accounts.c.name, accounts.c.role.label("account_role"))
        .join(accounts, accounts.c.id == links.c.account)
        .where((links.c.secret == hashed(token)) & (links.c.purpose == purpose))
        .where(links.c.used_at.is_(None) & (links.c.ends_at > stamp(now)))
        .where(accounts.c.closed.is_(False))
    )


def _link(row: Row[Any]) -> Link:
    return Link(row.id, row.account, row.name, at_most(row.account_role, row.role), row.ends_at)
