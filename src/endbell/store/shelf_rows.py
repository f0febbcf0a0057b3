"""What the shelf asks for beside its list: strips that have come, what there is to choose from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import bindparam, case, func, select, update

from .database import Database, glancing, writing
from .strips import years_from
from .tables import dossiers, strips


@dataclass(frozen=True, slots=True)
class Choices:
    """What is on the shelf: (maker, model, dossiers), how many are open and how many closed."""

    models: tuple[tuple[str, str, int], ...]
    open: int
    closed: int


def choices(db: Database) -> Choices:
    """The makers and models there are dossiers of, by name, and how many dossiers."""
    c = dossiers.c
    query = (
        select(c.maker, c.model, func.count(), func.sum(case((c.closed, 1), else_=0)))
        .group_by(c.maker, c.model)
        .order_by(c.maker, c.model)
    )
    with glancing(db) as connection:
        rows = [(row[0], row[1], int(row[2]), int(row[3])) for row in connection.execute(query)]
    closed = sum(row[3] for row in rows)
    return Choices(
        tuple((maker, model, n) for maker, model, n, _ in rows),
        sum(row[2] for row in rows) - closed,
        closed,
    )


@dataclass(frozen=True, slots=True)
class Shown:
    """What a list shows of a strip; see :class:`endbell.store.listing.Listed`."""

    says: str
    sure: str
    trouble: bool
    conflicts: int | None
    years: tuple[tuple[int, float], ...]


def current_strips(db: Database, wanted: Sequence[str]) -> dict[str, Shown]:
    """The strips of those dossiers whose strip is of their present version."""
    c = strips.c
    query = (
        select(c.dossier, c.says, c.sure, c.trouble, c.conflicts, c.years)
        .join(dossiers, dossiers.c.id == c.dossier)
        .where(c.dossier.in_(wanted), c.version == dossiers.c.version)
    )
    with glancing(db) as connection:
        return {
            row.dossier: Shown(
                row.says, row.sure, row.trouble, row.conflicts, years_from(row.years)
            )
            for row in connection.execute(query)
        }


def carry_strips(db: Database, before: Mapping[str, int]) -> None:
    """Say that the strips of these dossiers (id -> version before) hold for one change more.

    For a change that no weighing sees: a tag, closing.  A strip that was behind stays behind.
    """
    if not before:
        return
    query = (
        update(strips)
        .where(strips.c.dossier == bindparam("its"), strips.c.version == bindparam("was"))
        .values(version=bindparam("now"))
    )
    rows = [{"its": its, "was": was, "now": was + 1} for its, was in before.items()]
    with writing(db) as connection:
        connection.execute(query, rows)
