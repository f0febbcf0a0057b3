"""Small questions to the database: how much there is in all, where a photo or a key belongs."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import func, select

from .account_tables import accounts
from .database import Database, glancing, reading
from .tables import dossiers, events, photos


def whole(db: Database) -> Mapping[str, int]:
    """How many dossiers, events, photos and accounts there are."""
    queries = {
        "dossiers": select(func.count()).select_from(dossiers),
        "events": select(func.count()).select_from(events),
        "photos": select(func.count(photos.c.sha256.distinct())),
        "accounts": select(func.count()).select_from(accounts),
    }
    with reading(db) as connection:
        return {name: connection.execute(query).scalar_one() for name, query in queries.items()}


def dossiers_with(db: Database, sha256: str) -> tuple[str, ...]:
    """The dossiers that have a photo."""
    with glancing(db) as connection:
        found = connection.execute(select(photos.c.dossier).where(photos.c.sha256 == sha256))
        return tuple(found.scalars())


def opened_with(db: Database, key: str) -> str | None:
    """The dossier that was opened with a key, if one was."""
    with glancing(db) as connection:
        return connection.execute(
            select(events.c.stream).where((events.c.key == key) & (events.c.kind == "opened"))
        ).scalar()
