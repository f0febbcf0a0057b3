"""Every table that follows from the events, made anew from them alone."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, delete, select, text

from .append import event_from
from .database import Database, reading, writing
from .events import SHOP, Event
from .fold import fold
from .projections import dossier_row, mark_row, photo_row, project
from .search import search_row
from .state import DossierState
from .tables import dossiers, events, marks, photos, search_text, strips, tags

Step = Callable[[int], None]

DERIVED = (strips, search_text, tags, photos, marks, dossiers)
"""In the order in which they may be emptied."""


@dataclass(frozen=True, slots=True)
class Rows:
    """What the projections should hold of one dossier, table by table."""

    dossier: dict[str, Any]
    marks: list[dict[str, Any]]
    photos: list[dict[str, Any]]
    tags: list[str]
    search: dict[str, str]


def rows_of(state: DossierState) -> Rows:
    """The rows that follow from a state."""
    return Rows(
        dossier_row(state),
        [mark_row(state.id, mark) for mark in state.marks],
        [photo_row(state.id, photo) for photo in state.photos],
        sorted(set(state.tags)),
        search_row(state),
    )


def streams(connection: Connection) -> Iterator[tuple[str, tuple[Event, ...]]]:
    """Every stream with its events in order; raises ValueError for data that can't be read."""
    query = select(events).order_by(events.c.stream, events.c.n).execution_options(yield_per=1_000)
    name, held = "", list[Event]()
    for row in connection.execute(query).mappings():
        if row["stream"] != name:
            if held:
                yield name, tuple(held)
            name, held = row["stream"], []
        held.append(event_from(row))
    if held:
        yield name, tuple(held)


def rebuild(db: Database, step: Step = lambda done: None) -> int:
    """Empty every projection and fill it from the events; how many dossiers there are.

    One transaction: until it ends everybody sees the old rows.  The strips are emptied too: they
    are weighed anew when they are needed.
    """
    done = 0
    with writing(db) as connection:
        for table in DERIVED:
            connection.execute(delete(table))
        found = [(name, fold(name, held)) for name, held in streams(connection) if name != SHOP]
        for _, state in found:
            project(connection, None, state)
            done += 1
            step(done)
    return done


def mend(db: Database, step: Step = lambda done: None) -> int:
    """Make everything anew that follows from events and photos; how many dossiers there are.

    Raises :class:`ValueError` for events that can't be read: those come from a backup first.
    """
    if db.is_sqlite:  # its index may be damaged, and is kept by triggers while rows change
        with writing(db) as connection:
            connection.execute(text("INSERT INTO search(search) VALUES ('rebuild')"))
    done = rebuild(db, step)
    with reading(db) as connection:
        told = connection.execute(select(events.c.data).where(events.c.kind == "photo-added"))
        wanted = {json.loads(row.data)["photo"] for row in told}
    for path in (db.folder / "thumbs").glob("*/*"):
        if path.name.partition("-")[0] not in wanted:
            path.unlink(missing_ok=True)
    return done
