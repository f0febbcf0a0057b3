"""Accounts: who may come in, as what, and how they like their pages."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select, update

from .account_tables import account_log, accounts
from .append import new_id
from .database import Database, glancing, writing
from .events import canonical

READER, TECHNICIAN, OWNER = "reader", "technician", "owner"
ROLES = (READER, TECHNICIAN, OWNER)
"""From the least to the most that one may do."""

LONGEST_NAME = 80


class AccountRefused(ValueError):
    """What was asked of an account can't be done; the sentence says what was found and accepted."""


@dataclass(frozen=True, slots=True)
class Account:
    """An account.  ``password``: its Argon2id hash, '' until one is chosen."""

    id: str
    name: str
    role: str
    password: str = field(repr=False)
    closed: bool
    made_at: str
    changed_at: str
    settings: Mapping[str, Any]


def stamp(now: datetime | None = None) -> str:
    """An instant as the database writes it: UTC, ISO 8601 with microseconds."""
    return (now or datetime.now(UTC)).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def folded(name: str) -> str:
    """The one spelling under which a name is looked up: 'Ana' and 'ana ' are one."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())[:160]


def at_most(role: str, limit: str) -> str:
    """The lesser of two roles."""
    return ROLES[min(ROLES.index(role), ROLES.index(limit))]


def any_account(db: Database) -> bool:
    """Whether there is an account at all."""
    with glancing(db) as connection:
        return connection.execute(select(accounts.c.id).limit(1)).first() is not None


def add_account(
    db: Database,
    name: str,
    role: str,
    *,
    password: str = "",
    by: str = "",
    only_first: bool = False,
    now: datetime | None = None,
) -> Account:
    """A new account; ``password`` is a hash.  ``only_first``: refused where there is one already.

    Raises :class:`AccountRefused`.
    """
    name = _checked_name(name)
    _check_role(role)
    account = Account(new_id(), name, role, password, False, stamp(now), stamp(now), {})
    with writing(db) as connection:
        if only_first and connection.execute(select(accounts.c.id).limit(1)).first():
            raise AccountRefused("there is an account already; accepted: sign in with it")
        if _by_name(connection, name) is not None:
            raise AccountRefused(f"there is an account called {name!r}; accepted: another name")
        connection.execute(
            insert(accounts).values(
                id=account.id,
                name=name,
                folded=folded(name),
                role=role,
                password=password,
                closed=False,
                made_at=account.made_at,
                changed_at=account.changed_at,
                settings="{}",
            )
        )
        log(connection, "account-added", who=by, about=f"{name} ({role})", now=now)
    return account


def account_of(db: Database, account: str) -> Account | None:
    """The account with that id."""
    with glancing(db) as connection:
        row = connection.execute(select(accounts).where(accounts.c.id == account)).first()
    return _account(row) if row else None


def account_named(db: Database, name: str) -> Account | None:
    """The account with that name, however it is spelt."""
    with glancing(db) as connection:
        row = _by_name(connection, name)
    return _account(row) if row else None


def all_accounts(db: Database) -> tuple[Account, ...]:
    """Every account, closed ones too, by name."""
    with glancing(db) as connection:
        return tuple(
            _account(row)
            for row in connection.execute(select(accounts).order_by(accounts.c.folded))
        )


def set_password(
    db: Database, account: str, password: str, *, by: str, now: datetime | None = None
) -> None:
    """Another password (its hash)."""
    with writing(db) as connection:
        connection.execute(
            update(accounts)
            .where(accounts.c.id == account)
            .values(password=password, changed_at=stamp(now))
        )
        log(connection, "password-set", who=by, about=account, now=now)


def rehash(db: Database, account: str, before: str, after: str) -> None:
    """The same password under another hash; nothing where it has been changed meanwhile."""
    with writing(db) as connection:
        connection.execute(
            update(accounts)
            .where((accounts.c.id == account) & (accounts.c.password == before))
            .values(password=after)
        )


def set_role(
    db: Database, account: str, role: str, *, by: str, now: datetime | None = None
) -> None:
    """Another role.  Raises :class:`AccountRefused` where no owner would be left."""
    _check_role(role)
    with writing(db) as connection:
        if role != OWNER:
            _check_owner_left(connection, account)
        connection.execute(update(accounts).where(accounts.c.id == account).values(role=role))
        log(connection, "role-set", who=by, about=f"{account} {role}", now=now)


def set_closed(
    db: Database, account: str, closed: bool, *, by: str, now: datetime | None = None
) -> None:
    """Close an account or open it again.  Its entries stay.  Raises :class:`AccountRefused`."""
    with writing(db) as connection:
        if closed:
            _check_owner_left(connection, account)
        connection.execute(update(accounts).where(accounts.c.id == account).values(closed=closed))
        what = "account-closed" if closed else "account-opened"
        log(connection, what, who=by, about=account, now=now)


def set_settings(db: Database, account: str, settings: Mapping[str, Any]) -> None:
    """How the pages look for this account."""
    with writing(db) as connection:
        connection.execute(
            update(accounts).where(accounts.c.id == account).values(settings=canonical(settings))
        )


def names_of(db: Database) -> dict[str, str]:
    """Account id -> name, closed ones too: who did what."""
    with glancing(db) as connection:
        return {
            row.id: row.name for row in connection.execute(select(accounts.c.id, accounts.c.name))
        }


def log(
    connection: Connection,
    what: str,
    *,
    who: str = "",
    about: str = "",
    address: str = "",
    now: datetime | None = None,
) -> None:
    """A line of the log of accounts, in the transaction of what it tells."""
    connection.execute(
        insert(account_log).values(
            at=stamp(now), who=who, what=what, about=about[:200], address=address[:64]
        )
    )


def logged(db: Database, last: int = 200) -> tuple[Row[Any], ...]:
    """The last lines of the log, latest first: seq, at, who, what, about, address."""
    with glancing(db) as connection:
        return tuple(
            connection.execute(select(account_log).order_by(account_log.c.seq.desc()).limit(last))
        )


def _by_name(connection: Connection, name: str) -> Row[Any] | None:
    return connection.execute(select(accounts).where(accounts.c.folded == folded(name))).first()


def _account(row: Row[Any]) -> Account:
    return Account(
        row.id,
        row.name,
        row.role,
        row.password,
        row.closed,
        row.made_at,
        row.changed_at,
        json.loads(row.settings),
    )


def _checked_name(name: str) -> str:
    name = " ".join(name.split())
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise AccountRefused(
            f"the name is {name[:100]!r}; accepted: 1 to {LONGEST_NAME} letters that can be seen"
        )
    return name


def _check_role(role: str) -> None:
    if role not in ROLES:
        raise AccountRefused(f"the role is {role!r:.40}; accepted: {', '.join(ROLES)}")


def _check_owner_left(connection: Connection, account: str) -> None:
    others = connection.execute(
        select(func.count())
        .select_from(accounts)
        .where(
            (accounts.c.id != account) & (accounts.c.role == OWNER) & accounts.c.closed.is_(False)
        )
    ).scalar_one()
    if not others:
        raise AccountRefused("this is the only owner; accepted: make another account owner first")
