"""Links by which somebody without an account may look at one dossier until a day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Row, insert, select, update

from .account_tables import shares
from .accounts import log, stamp
from .append import NoDossier, new_id
from .database import Database, glancing, writing
from .sessions import hashed, secret
from .tables import dossiers

SHORTEST, LONGEST = timedelta(hours=1), timedelta(days=366)


@dataclass(frozen=True, slots=True)
class Share:
    """A link to a dossier.  ``label``: for whom; ``photos``: whether they are shown with it."""

    id: str
    dossier: str
    label: str
    photos: bool
    made_by: str
    made_at: str
    ends_at: str
    taken_back_at: str | None
    looked_at: int
    last_at: str | None

    def opens(self, now: datetime) -> bool:
        """Whether it still opens."""
        return self.taken_back_at is None and self.ends_at > stamp(now)


def make_share(
    db: Database,
    dossier: str,
    life: timedelta,
    *,
    label: str = "",
    photos: bool = True,
    by: str,
    now: datetime | None = None,
) -> tuple[str, Share]:
    """A new link: its secret, which is kept nowhere, and what is kept.  Raises NoDossier."""
    at = now or datetime.now(UTC)
    token = secret()
    life = max(SHORTEST, min(life, LONGEST))
    made = Share(
        new_id(), dossier, label[:120], photos, by, stamp(at), stamp(at + life), None, 0, None
    )
    with writing(db) as connection:
        if (
            connection.execute(select(dossiers.c.id).where(dossiers.c.id == dossier)).first()
            is None
        ):
            raise NoDossier(f"there is no dossier {dossier}")
        connection.execute(
            insert(shares).values(
                id=made.id,
                secret=hashed(token),
                dossier=dossier,
                label=made.label,
                photos=photos,
                made_by=by,
                made_at=made.made_at,
                ends_at=made.ends_at,
                looked_at=0,
            )
        )
        log(connection, "shared", who=by, about=dossier, now=at)
    return token, made


def shares_of(db: Database, dossier: str) -> tuple[Share, ...]:
    """The links to a dossier, the latest first, those that no longer open too."""
    with glancing(db) as connection:
        rows = connection.execute(
            select(shares).where(shares.c.dossier == dossier).order_by(shares.c.id.desc())
        )
        return tuple(_share(row) for row in rows)


def share_of(db: Database, token: str, now: datetime | None = None) -> Share | None:
    """The link with that secret while it opens."""
    at = now or datetime.now(UTC)
    with glancing(db) as connection:
        row = connection.execute(select(shares).where(shares.c.secret == hashed(token))).first()
    found = _share(row) if row else None
    return found if found and found.opens(at) else None


def looked(db: Database, share: str, now: datetime | None = None) -> None:
    """Count that somebody looked."""
    with writing(db) as connection:
        connection.execute(
            update(shares)
            .where(shares.c.id == share)
            .values(looked_at=shares.c.looked_at + 1, last_at=stamp(now))
        )


def take_back(
    db: Database, dossier: str, share: str, *, by: str, now: datetime | None = None
) -> bool:
    """Have a link open no more; False where there is none such."""
    with writing(db) as connection:
        done = connection.execute(
            update(shares)
            .where((shares.c.id == share) & (shares.c.dossier == dossier))
            .where(shares.c.taken_back_at.is_(None))
            .values(taken_back_at=stamp(now))
        )
        if done.rowcount:
            log(connection, "share-taken-back", who=by, about=dossier, now=now)
        return bool(done.rowcount)


def _share(row: Row[Any]) -> Share:
    return Share(
        row.id,
        row.dossier,
        row.label,
        row.photos,
        row.made_by,
        row.made_at,
        row.ends_at,
        row.taken_back_at,
        row.looked_at,
        row.last_at,
    )
