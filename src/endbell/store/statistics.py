"""What the shop has seen so far, counted by the database: months, models, parts, marks.

Counts what is recorded and what the last strips say; nothing is weighed here.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, case, func, select, text

from .database import Database, reading
from .tables import dossiers, marks, strips

CERTAIN = (0.95, 0.8, 0.5)
"""Where one degree of certainty of the year ends and the next begins, from above."""


@dataclass(frozen=True, slots=True)
class ModelCount:
    """Dossiers of one model: all, and by how sure the year of building is.

    ``sure``: as many as :data:`CERTAIN` has limits and one more for those below the last;
    ``unweighed``: no strip yet.
    """

    maker: str
    model: str
    count: int
    sure: tuple[int, ...]
    unweighed: int


@dataclass(frozen=True, slots=True)
class Counted:
    """The counts of a shop.

    ``months``: (month 'YYYY-MM', booked in, of these closed by now); ``built``: (year, dossiers
    whose likeliest year it is); ``parts``: (part, word, count) of all strips; ``marks``: (part,
    kind, seen, not readable, anything else that was answered).
    """

    dossiers: int
    months: tuple[tuple[str, int, int], ...]
    models: tuple[ModelCount, ...]
    built: tuple[tuple[int, int], ...]
    parts: tuple[tuple[str, str, int], ...]
    marks: tuple[tuple[str, str, int, int, int], ...]


def counted(db: Database) -> Counted:
    """All counts of the shop, of one moment."""
    with reading(db) as connection:
        return Counted(
            connection.execute(select(func.count()).select_from(dossiers)).scalar_one(),
            _months(connection),
            _models(connection),
            _built(connection),
            _parts(connection, sqlite=db.is_sqlite),
            _marks(connection),
        )


def _months(connection: Connection) -> tuple[tuple[str, int, int], ...]:
    month = func.substr(dossiers.c.opened_at, 1, 7).label("month")
    closed = func.sum(case((dossiers.c.closed, 1), else_=0))
    found = connection.execute(select(month, func.count(), closed).group_by(month).order_by(month))
    return tuple((m, int(n), int(c)) for m, n, c in found)


def _models(connection: Connection) -> tuple[ModelCount, ...]:
    p = strips.c.p_mode_year
    above = [*CERTAIN, 0.0]
    limits = [None, *CERTAIN]
    sums = [
        func.sum(case(((p >= low) if high is None else (p >= low) & (p < high), 1), else_=0))
        for low, high in zip(above, limits, strict=True)
    ]
    unweighed = func.sum(case((p.is_(None), 1), else_=0))
    found = connection.execute(
        select(dossiers.c.maker, dossiers.c.model, func.count(), unweighed, *sums)
        .select_from(dossiers.outerjoin(strips, strips.c.dossier == dossiers.c.id))
        .group_by(dossiers.c.maker, dossiers.c.model)
        .order_by(func.count().desc(), dossiers.c.maker, dossiers.c.model)
    )
    counts: list[ModelCount] = []
    for row in found:
        maker, model, n, un, *sure = tuple(row)
        counts.append(ModelCount(maker, model, int(n), tuple(int(s) for s in sure), int(un)))
    return tuple(counts)


def _built(connection: Connection) -> tuple[tuple[int, int], ...]:
    year = strips.c.mode_year
    found = connection.execute(
        select(year, func.count()).where(year.is_not(None)).group_by(year).order_by(year)
    )
    return tuple((int(y), int(n)) for y, n in found)


_PARTS_SQLITE = """
SELECT p.key AS part, json_extract(p.value, '$[0]') AS word, count(*) AS n
FROM strips, json_each(strips.strip, '$.parts') AS p GROUP BY 1, 2 ORDER BY 1, 2
"""
_PARTS_POSTGRESQL = """
SELECT p.key AS part, p.value ->> 0 AS word, count(*) AS n
FROM strips, jsonb_each(CAST(strips.strip AS jsonb) -> 'parts') AS p GROUP BY 1, 2 ORDER BY 1, 2
"""


def _parts(connection: Connection, *, sqlite: bool) -> tuple[tuple[str, str, int], ...]:
    found = connection.execute(text(_PARTS_SQLITE if sqlite else _PARTS_POSTGRESQL))
    return tuple((str(part), str(word), int(n)) for part, word, n in found)


def _marks(connection: Connection) -> tuple[tuple[str, str, int, int, int], ...]:
    c = marks.c
    seen = func.sum(case((c.result == "seen", 1), else_=0))
    illegible = func.sum(case((c.result == "illegible", 1), else_=0))
    found = connection.execute(
        select(c.part, c.kind, seen, illegible, func.count())
        .where(~c.withdrawn)
        .group_by(c.part, c.kind)
        .order_by(func.count().desc(), c.part, c.kind)
    )
    return tuple(
        (part, kind, int(s), int(i), int(n) - int(s) - int(i)) for part, kind, s, i, n in found
    )
