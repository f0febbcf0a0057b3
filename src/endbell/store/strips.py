"""The last verdict in brief of each dossier, kept for lists: a cache that may be emptied."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import bindparam, delete, func, insert, or_, select

from .database import Database, glancing, writing
from .events import canonical
from .tables import dossiers, strips

OPEN = "open"
"""What ``sure`` is where the verdict's own words say 'cannot tell'."""


LEAST = 0.004
"""A year below this share is not drawn in a list: less than a tenth of a pixel."""

_OF_VERSION = select(strips.c.strip).where(
    strips.c.dossier == bindparam("its"),
    strips.c.version == bindparam("of"),
    strips.c.made_by == bindparam("by"),
)


@dataclass(frozen=True, slots=True)
class StripRow:
    """A verdict in brief of one version of a dossier.

    ``sure``: 'settled', 'probable' or :data:`OPEN`, as the verdict's own words are; ``made_by``:
    code and packs that made it; ``trouble``: nothing could be weighed, and ``says`` tells why;
    ``conflicts``: sets of marks that can't all be right (None: not counted); ``years``: (year, its
    share); ``strip``: what it is drawn from, as JSON values.
    """

    dossier: str
    version: int
    made_by: str
    says: str
    sure: str
    strip: Mapping[str, Any]
    first_year: int | None = None
    mode_year: int | None = None
    last_year: int | None = None
    p_mode_year: float | None = None
    claim_p: float | None = None
    trouble: bool = False
    conflicts: int | None = None
    years: Sequence[tuple[int, float]] = ()


def keep_strips(db: Database, rows: Sequence[StripRow]) -> None:
    """Keep those whose dossier has not moved on since."""
    with writing(db) as connection:
        for row in rows:
            version = connection.execute(
                select(dossiers.c.version).where(dossiers.c.id == row.dossier)
            ).scalar()
            if version == row.version:
                values = asdict(row) | {"strip": canonical(row.strip), "years": _told(row.years)}
                connection.execute(delete(strips).where(strips.c.dossier == row.dossier))
                connection.execute(insert(strips).values(values))


def _told(years: Sequence[tuple[int, float]]) -> str:
    """The years that lists draw, in few letters."""
    return canonical([[year, round(p, 4)] for year, p in years if p >= LEAST])


def years_from(told: str | None) -> tuple[tuple[int, float], ...]:
    """The years of the column ``years``."""
    return tuple((year, p) for year, p in json.loads(told)) if told else ()


def kept_strip(db: Database, dossier: str) -> Mapping[str, Any] | None:
    """What the strip that was kept last is drawn from."""
    with glancing(db) as connection:
        text = connection.execute(
            select(strips.c.strip).where(strips.c.dossier == dossier)
        ).scalar()
    return json.loads(text) if text else None


def strip_kept_of(
    db: Database, dossier: str, version: int, made_by: str
) -> Mapping[str, Any] | None:
    """The same, if it is of just that version and ``made_by`` made it."""
    with glancing(db) as connection:
        asked = {"its": dossier, "of": version, "by": made_by}
        text = connection.execute(_OF_VERSION, asked).scalar()
    return json.loads(text) if text else None


def strips_behind(db: Database, made_by: str, most: int) -> tuple[str, ...]:
    """Dossiers whose strip is missing, of another version or not ``made_by``; latest first."""
    old = or_(
        strips.c.dossier.is_(None),
        strips.c.version != dossiers.c.version,
        func.coalesce(strips.c.made_by, "") != made_by,
    )
    query = (
        select(dossiers.c.id)
        .select_from(dossiers.outerjoin(strips, strips.c.dossier == dossiers.c.id))
        .where(old)
        .order_by(dossiers.c.changed_at.desc())
        .limit(most)
    )
    with glancing(db) as connection:
        return tuple(connection.execute(query).scalars())
