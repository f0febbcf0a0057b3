"""The shelf: dossiers filtered, sorted and paged by the database, with their strips and tags."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, bindparam, func, or_, select
from sqlalchemy.sql.elements import UnaryExpression

from .database import Database, reading
from .search import finding
from .strips import OPEN, years_from
from .tables import dossiers, strips, tags

PAGE = 50

SORTS: Mapping[str, ColumnElement[Any]] = {
    "changed": dossiers.c.changed_at,
    "opened": dossiers.c.opened_at,
    "number": dossiers.c.number,
    "model": dossiers.c.model,
    "whose": dossiers.c.whose,
    "marks": dossiers.c.marks,
    "year": strips.c.mode_year,
    "sure": strips.c.p_mode_year,
    "claim": strips.c.claim_p,
}
"""By what the shelf can be sorted."""


@dataclass(frozen=True, slots=True)
class Filters:
    """What is to be shown.  Empty: everything.

    ``words``: a search; ``year_from``, ``year_to``: years that the 95% set reaches into;
    ``told`` False: those whose strip says that the year can't be told; ``conflicts`` True: those
    with marks that can't all be right; ``weighed`` False: only those without a strip of their
    present version.
    """

    words: str = ""
    closed: bool | None = None
    purpose: str = ""
    maker: str = ""
    model: str = ""
    tag: str = ""
    year_from: int | None = None
    year_to: int | None = None
    told: bool | None = None
    conflicts: bool | None = None
    weighed: bool | None = None


@dataclass(frozen=True, slots=True)
class Listed:
    """One dossier on the shelf, with what was kept of its strip.

    ``strip_version``: the version it was made of (None: there is none); ``years``: (year, share)
    of those worth drawing; ``trouble``: nothing could be weighed, as ``says`` tells.
    """

    id: str
    number: str
    version: int
    maker: str
    model: str
    built: str
    whose: str
    purpose: str
    marks: int
    closed: bool
    opened_at: str
    changed_at: str
    tags: tuple[str, ...]
    says: str = ""
    sure: str = ""
    trouble: bool = False
    conflicts: int | None = None
    mode_year: int | None = None
    p_mode_year: float | None = None
    claim_p: float | None = None
    years: tuple[tuple[int, float], ...] = ()
    strip_version: int | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """Some rows of a list, and how many there are in all."""

    rows: tuple[Listed, ...]
    total: int


_TAGS = (
    select(tags.c.dossier, tags.c.tag)
    .where(tags.c.dossier.in_(bindparam("wanted", expanding=True)))
    .order_by(tags.c.dossier, tags.c.tag)
)
_ROWS = (
    select(
        *(column for column in dossiers.c if column.name != "state"),
        func.coalesce(strips.c.says, "").label("says"),
        func.coalesce(strips.c.sure, "").label("sure"),
        func.coalesce(strips.c.trouble, False).label("trouble"),
        strips.c.conflicts,
        strips.c.mode_year,
        strips.c.p_mode_year,
        strips.c.claim_p,
        strips.c.years,
        strips.c.version.label("strip_version"),
    )
    .select_from(dossiers)
    .outerjoin(strips, strips.c.dossier == dossiers.c.id)
    .where(dossiers.c.id.in_(bindparam("wanted", expanding=True)))
)


def listed(
    db: Database,
    filters: Filters | None = None,
    *,
    sort: str = "changed",
    down: bool = True,
    limit: int = PAGE,
    offset: int = 0,
) -> Page:
    """The dossiers that pass ``filters``, in the order of ``sort`` (one of :data:`SORTS`).

    Equal ones stand with the latest first; those without a value come last either way.
    """
    chosen = filters or Filters()
    with reading(db) as connection:
        conditions, values, total = _conditions(connection, chosen)
        if conditions is None:
            return Page((), 0)
        # ids first, then the long columns of one page alone
        ids = (
            _joined(select(dossiers.c.id))
            .where(*conditions)
            .order_by(*_order(sort, down))
            .limit(limit)
            .offset(offset)
        )
        if total is None:
            count = select(func.count()).select_from(dossiers)
            if _needs_strips(chosen):
                count = count.outerjoin(strips, strips.c.dossier == dossiers.c.id)
            total = connection.execute(count.where(*conditions), values).scalar_one()
        wanted = list(connection.execute(ids, values).scalars())
        return Page(_rows(connection, wanted), total)


def ids_of(db: Database, filters: Filters) -> tuple[str, ...]:
    """The ids of all dossiers that pass ``filters``, by number."""
    with reading(db) as connection:
        conditions, values, _ = _conditions(connection, filters)
        if conditions is None:
            return ()
        query = _joined(select(dossiers.c.id)).where(*conditions).order_by(dossiers.c.number)
        return tuple(connection.execute(query, values).scalars())


def following(
    db: Database, words: str, limit: int, after: tuple[str, str] | None = None
) -> tuple[Mapping[str, Any], ...]:
    """Rows of dossiers that a search finds, the last changed first.

    ``after``: ``changed_at`` and id of the row that the page before ended with.
    """
    columns = [column for column in dossiers.c if column.name != "state"]
    query = select(*columns).order_by(dossiers.c.changed_at.desc(), dossiers.c.id.desc())
    if after is not None:
        at, last = after
        later = and_(dossiers.c.changed_at == at, dossiers.c.id < last)
        query = query.where(or_(dossiers.c.changed_at < at, later))
    values: Mapping[str, str] = {}
    with reading(db) as connection:
        if words.strip():
            found = finding(connection, words)
            if found is None:
                return ()
            query, values = query.where(found.condition), found.values
        rows = connection.execute(query.limit(limit), values).mappings()
        return tuple({str(key): value for key, value in row.items()} for row in rows)


def tags_in_use(db: Database) -> tuple[tuple[str, int], ...]:
    """Every tag and how many dossiers bear it, by name."""
    query = select(tags.c.tag, func.count()).group_by(tags.c.tag).order_by(tags.c.tag)
    with reading(db) as connection:
        return tuple((row[0], row[1]) for row in connection.execute(query))


def _joined(query: Any) -> Select[Any]:
    return query.select_from(dossiers).outerjoin(strips, strips.c.dossier == dossiers.c.id)


def _needs_strips(filters: Filters) -> bool:
    given = (
        filters.year_from,
        filters.year_to,
        filters.told,
        filters.conflicts,
        filters.weighed,
    )
    return any(value is not None for value in given)


def _conditions(
    connection: Connection, filters: Filters
) -> tuple[list[ColumnElement[bool]] | None, Mapping[str, str], int | None]:
    """The conditions, the values in them, and how many pass where a search alone tells.

    No conditions (None): nothing can pass.
    """
    out: list[ColumnElement[bool]] = []
    values: Mapping[str, str] = {}
    total: int | None = None
    if filters.words.strip():
        found = finding(connection, filters.words)
        if found is None:
            return None, {}, 0
        values = found.values
        out.append(found.condition)
        if filters == Filters(words=filters.words):
            total = found.total
    for column, value in (
        (dossiers.c.purpose, filters.purpose),
        (dossiers.c.maker, filters.maker),
        (dossiers.c.model, filters.model),
    ):
        if value:
            out.append(column == value)
    if filters.closed is not None:
        out.append(dossiers.c.closed.is_(filters.closed))
    if filters.tag:
        out.append(dossiers.c.id.in_(select(tags.c.dossier).where(tags.c.tag == filters.tag)))
    if filters.year_from is not None:
        out.append(strips.c.last_year >= filters.year_from)
    if filters.year_to is not None:
        out.append(strips.c.first_year <= filters.year_to)
    if filters.told is not None:
        out.append(strips.c.sure != OPEN if filters.told else strips.c.sure == OPEN)
    if filters.conflicts is not None:
        out.append(strips.c.conflicts > 0 if filters.conflicts else strips.c.conflicts == 0)
    if filters.weighed is not None:
        current = (strips.c.version == dossiers.c.version) & strips.c.dossier.is_not(None)
        out.append(current if filters.weighed else func.coalesce(current, False).is_(False))
    return out, values, total


def _order(sort: str, down: bool) -> list[UnaryExpression[Any] | ColumnElement[Any]]:
    column = SORTS.get(sort, SORTS["changed"])
    order: list[UnaryExpression[Any] | ColumnElement[Any]] = []
    if column.table is strips:  # type: ignore[attr-defined]
        order.append(column.is_(None))
    order.append(column.desc() if down else column.asc())
    if column is not dossiers.c.changed_at:
        order.append(dossiers.c.changed_at.desc())
    order.append(dossiers.c.id.desc() if down else dossiers.c.id.asc())
    return order


def _rows(connection: Connection, wanted: Sequence[str]) -> tuple[Listed, ...]:
    if not wanted:
        return ()
    tagged: dict[str, list[str]] = {}
    for dossier, tag in connection.execute(_TAGS, {"wanted": wanted}):
        tagged.setdefault(dossier, []).append(tag)
    found: dict[str, Listed] = {}
    for row in connection.execute(_ROWS, {"wanted": wanted}):
        values = row._asdict()
        values["years"] = years_from(values["years"])
        found[row.id] = Listed(**values, tags=tuple(tagged.get(row.id, ())))
    return tuple(found[i] for i in wanted if i in found)
