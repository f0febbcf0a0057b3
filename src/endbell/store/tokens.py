"""Tokens by which a program does what its account may do."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Row, insert, select, update

from .account_tables import accounts, api_tokens
from .accounts import at_most, log, stamp
from .append import new_id
from .database import Database, glancing, writing
from .sessions import SEEN_EVERY, hashed, secret

PREFIX = "endbell_"
"""So that one is known for what it is where it should not be."""

LONGEST = timedelta(days=366)


@dataclass(frozen=True, slots=True)
class Token:
    """A token that was made.  ``name``: of the program; ``role``: what it may do at most."""

    id: str
    account: str
    account_name: str
    name: str
    role: str
    made_at: str
    ends_at: str
    used_at: str | None
    taken_back_at: str | None


def make_token(
    db: Database,
    account: str,
    name: str,
    role: str,
    life: timedelta,
    *,
    by: str,
    now: datetime | None = None,
) -> str:
    """A new token; it is kept nowhere and can't be shown again."""
    at = now or datetime.now(UTC)
    token = PREFIX + secret()
    with writing(db) as connection:
        connection.execute(
            insert(api_tokens).values(
                id=new_id(),
                secret=hashed(token),
                account=account,
                name=" ".join(name.split())[:80],
                role=role,
                made_at=stamp(at),
                ends_at=stamp(at + min(life, LONGEST)),
            )
        )
        log(connection, "token-made", who=by, about=account, now=at)
    return token


def token_of(db: Database, token: str, now: datetime | None = None) -> Token | None:
    """The token while it opens."""
    at = now or datetime.now(UTC)
    with glancing(db) as connection:
        row = connection.execute(
            _whole()
            .where(api_tokens.c.secret == hashed(token))
            .where(api_tokens.c.taken_back_at.is_(None) & (api_tokens.c.ends_at > stamp(at)))
            .where(accounts.c.closed.is_(False))
        ).first()
    if row is None:
        return None
    if row.used_at is None or row.used_at < stamp(at - SEEN_EVERY):
        with writing(db) as connection:
            connection.execute(
                update(api_tokens).where(api_tokens.c.id == row.id).values(used_at=stamp(at))
            )
    return _token(row)


def tokens_of(db: Database, account: str) -> tuple[Token, ...]:
    """The tokens of an account that were not taken back, the latest first."""
    with glancing(db) as connection:
        rows = connection.execute(
            _whole()
            .where((api_tokens.c.account == account) & api_tokens.c.taken_back_at.is_(None))
            .order_by(api_tokens.c.id.desc())
        )
        return tuple(_token(row) for row in rows)


def take_token_back(
    db: Database, account: str, token: str | None, *, by: str, now: datetime | None = None
) -> bool:
    """Have a token of the account open no more; None: all of them."""
    which = (api_tokens.c.account == account) & api_tokens.c.taken_back_at.is_(None)
    if token is not None:
        which &= api_tokens.c.id == token
    with writing(db) as connection:
        done = connection.execute(update(api_tokens).where(which).values(taken_back_at=stamp(now)))
        if done.rowcount:
            log(connection, "token-taken-back", who=by, about=account, now=now)
        return bool(done.rowcount)


def _whole() -> Any:
    return select(
        api_tokens, accounts.c.name.label("account_name"), accounts.c.role.label("account_role")
    ).join(accounts, accounts.c.id == api_tokens.c.account)


def _token(row: Row[Any]) -> Token:
    return Token(
        row.id,
        row.account,
        row.account_name,
        row.name,
        at_most(row.account_role, row.role),
        row.made_at,
        row.ends_at,
        row.used_at,
        row.taken_back_at,
    )
