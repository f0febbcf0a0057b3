"""Sessions: a signed-in browser.  Its secret is in a cookie; here is only its hash."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, bindparam, insert, select, update

from .account_tables import accounts, devices, sessions
from .accounts import at_most, log, stamp
from .append import new_id
from .database import Database, glancing, writing

IDLE = timedelta(hours=12)
"""A session ends when nothing was asked for so long: overnight, not over a lunch break."""

ABSOLUTE = timedelta(days=7)
"""It ends after so long in any case."""

SEEN_EVERY = timedelta(minutes=1)
"""How exactly it is recorded when a session was last seen: a write less for most requests."""


# asked with every request: put together once
_STANDING = (
    select(
        sessions,
        accounts.c.name,
        accounts.c.role.label("account_role"),
        accounts.c.settings,
        devices.c.name.label("device_name"),
    )
    .join(accounts, accounts.c.id == sessions.c.account)
    .join(devices, devices.c.id == sessions.c.device)
    .where(
        sessions.c.ended_at.is_(None),
        sessions.c.ends_at > bindparam("at"),
        sessions.c.seen_at > bindparam("since"),
        accounts.c.closed.is_(False),
    )
)
_OF_SECRET = _STANDING.where(sessions.c.secret == bindparam("its"))
_OF_ACCOUNT = _STANDING.where(sessions.c.account == bindparam("its")).order_by(
    sessions.c.seen_at.desc()
)


@dataclass(frozen=True, slots=True)
class Session:
    """A session that stands.  ``role``: what it may do, never more than its account."""

    id: str
    account: str
    name: str
    role: str
    device: str
    device_name: str
    way: str
    made_at: str
    seen_at: str
    ends_at: str
    settings: str = "{}"


def secret() -> str:
    """A new secret of 256 bits, fit for a cookie and an address."""
    return secrets.token_urlsafe(32)


def hashed(token: str) -> str:
    """What is kept of a secret: it is long and random, so a plain hash is enough."""
    return hashlib.sha256(token.encode()).hexdigest()


def device_for(
    db: Database, token: str | None, name: str, now: datetime | None = None
) -> tuple[str, str]:
    """The device with the secret ``token``, or a new one called ``name``: its id and its secret."""
    at = stamp(now)
    with writing(db) as connection:
        if token is not None:
            row = connection.execute(
                select(devices.c.id).where(devices.c.secret == hashed(token))
            ).first()
            if row is not None:
                connection.execute(update(devices).where(devices.c.id == row.id).values(seen_at=at))
                return row.id, token
        made, fresh = new_id(), secret()
        connection.execute(
            insert(devices).values(
                id=made, secret=hashed(fresh), name=name[:80], made_at=at, seen_at=at
            )
        )
        return made, fresh


def name_device(db: Database, device: str, name: str) -> None:
    """Call a device ``name``."""
    with writing(db) as connection:
        connection.execute(update(devices).where(devices.c.id == device).values(name=name[:80]))


def device_names(db: Database) -> dict[str, str]:
    """Device id -> name."""
    with glancing(db) as connection:
        return {
            row.id: row.name for row in connection.execute(select(devices.c.id, devices.c.name))
        }


def begin_session(
    db: Database,
    account: str,
    device: str,
    role: str,
    way: str,
    *,
    before: str | None = None,
    address: str = "",
    absolute: timedelta = ABSOLUTE,
    now: datetime | None = None,
) -> str:
    """A new session; answers with its secret.  ``before``: the secret of the one it takes over."""
    token, made = secret(), (now or datetime.now(UTC))
    with writing(db) as connection:
        if before is not None:
            connection.execute(
                update(sessions)
                .where((sessions.c.secret == hashed(before)) & sessions.c.ended_at.is_(None))
                .values(ended_at=stamp(made))
            )
        connection.execute(
            insert(sessions).values(
                id=new_id(),
                secret=hashed(token),
                account=account,
                device=device,
                role=role,
                way=way,
                made_at=stamp(made),
                seen_at=stamp(made),
                ends_at=stamp(made + absolute),
            )
        )
        log(connection, "signed-in", who=account, about=way, address=address, now=made)
    return token


def session_of(
    db: Database, token: str, *, idle: timedelta = IDLE, now: datetime | None = None
) -> Session | None:
    """The standing session with that secret; None where it ended, in whichever way."""
    made = now or datetime.now(UTC)
    asked = {"its": hashed(token), "at": stamp(made), "since": stamp(made - idle)}
    with glancing(db) as connection:
        row = connection.execute(_OF_SECRET, asked).first()
    if row is None:
        return None
    if row.seen_at < stamp(made - SEEN_EVERY):
        with writing(db) as connection:
            connection.execute(
                update(sessions).where(sessions.c.id == row.id).values(seen_at=stamp(made))
            )
    return _session(row)


def sessions_of(
    db: Database, account: str, *, idle: timedelta = IDLE, now: datetime | None = None
) -> tuple[Session, ...]:
    """The standing sessions of an account, the last seen first."""
    made = now or datetime.now(UTC)
    with glancing(db) as connection:
        rows = connection.execute(
            _OF_ACCOUNT, {"its": account, "at": stamp(made), "since": stamp(made - idle)}
        )
        return tuple(_session(row) for row in rows)


def end_session(
    db: Database, account: str, session: str, *, by: str, now: datetime | None = None
) -> bool:
    """End one session of an account; False where there is none such."""
    with writing(db) as connection:
        return _end(
            connection, (sessions.c.account == account) & (sessions.c.id == session), by, now
        )


def end_sessions(
    db: Database,
    account: str,
    *,
    by: str,
    but: str | None = None,
    now: datetime | None = None,
) -> None:
    """End all sessions of an account, ``but`` one."""
    with writing(db) as connection:
        which = sessions.c.account == account
        _end(connection, which & (sessions.c.id != but) if but else which, by, now)


def _end(connection: Connection, which: Any, by: str, now: datetime | None) -> bool:
    done = connection.execute(
        update(sessions).where(which & sessions.c.ended_at.is_(None)).values(ended_at=stamp(now))
    )
    if done.rowcount:
        log(connection, "signed-out", who=by, about=f"{done.rowcount} sessions", now=now)
    return bool(done.rowcount)


def _session(row: Row[Any]) -> Session:
    return Session(
        row.id,
        row.account,
        row.name,
        at_most(row.account_role, row.role),
        row.device,
        row.device_name,
        row.way,
        row.made_at,
        row.seen_at,
        row.ends_at,
        row.settings,
    )
