"""The one way in which anything is recorded: events appended, projections moved along with them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, bindparam, insert, select, text
from ulid import ULID

from .database import Database, glancing, writing
from .events import SHOP, By, Change, ChangeRefused, Event, canonical, check_change, digest_of
from .fold import advance, fold
from .projections import project
from .state import DossierState, state_from_json
from .tables import dossiers, events

UNDOING = ("undone", "redone")

# asked with nearly every request: put together once
_STATE = select(dossiers.c.state).where(dossiers.c.id == bindparam("stream"))
_LAST = (
    select(events.c.n, events.c.digest)
    .where(events.c.stream == bindparam("stream"))
    .order_by(events.c.n.desc())
    .limit(1)
)


class NoDossier(LookupError):
    """There is no dossier with that id."""


class NumberTaken(ChangeRefused):
    """Another dossier has that number."""


@dataclass(frozen=True, slots=True)
class Appended:
    """What was recorded.  ``state``: the dossier now (None in the shop's stream).

    ``repeated``: the key had been recorded before; nothing was added, and ``events`` are those of
    the first time.
    """

    state: DossierState | None
    events: tuple[Event, ...]
    repeated: bool = False


def new_id() -> str:
    """A new ULID: an id for a stream, a mark, a key; later ones sort later."""
    return str(ULID())


def append(
    db: Database,
    stream: str,
    changes: Sequence[Change],
    *,
    by: By,
    key: str | None = None,
    now: datetime | None = None,
) -> Appended:
    """Record ``changes`` in ``stream``, all or none.

    ``key``: made by the sender; sending the same key again records nothing and answers as the
    first time.  Raises :class:`ChangeRefused` for a change that the stream does not take,
    :class:`NoDossier` for a stream that was never opened.
    """
    for change in changes:
        check_change(stream, change)
    if not changes:
        raise ChangeRefused("nothing to record")
    key = key or new_id()
    at = (now or datetime.now(UTC)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    with writing(db) as connection:
        _one_at_a_time(db, connection, stream)
        if any(change.kind in ("opened", "head-set") for change in changes):
            _one_at_a_time(db, connection, "numbers")
        earlier = _events(connection, events.c.key.in_(_keys(key, len(changes))))
        if earlier:
            return Appended(_state(connection, earlier[0].stream), earlier, repeated=True)
        done = _appended(connection, stream, changes, by, key, at)
    if stream == SHOP:
        db.recorded[SHOP] += 1
    return done


def _appended(
    connection: Connection, stream: str, changes: Sequence[Change], by: By, key: str, at: str
) -> Appended:
    """What :func:`append` records, in its transaction."""
    state = _state(connection, stream)
    _check_opening(stream, state, changes)
    _check_undoing(connection, stream, changes)
    made: list[Event] = []
    n, digest = _last(connection, stream)
    for change, own_key in zip(changes, _keys(key, len(changes)), strict=True):
        n += 1
        event = Event(
            0, stream, n, at, by.who, by.device, change.kind, change.data, own_key, change.typed
        )
        digest = digest_of(digest, event)
        made.append(_insert(connection, replace(event, digest=digest)))
    if stream == SHOP:
        return Appended(None, tuple(made))
    after = advance(state or DossierState(id=stream), made)
    if after is None:
        after = fold(stream, _events(connection, events.c.stream == stream))
    if state is None or after.number != state.number:
        _check_number(connection, after)
    project(connection, state, after)
    return Appended(after, tuple(made))


def state_of(db: Database, dossier: str) -> DossierState:
    """The present state of a dossier.  Raises :class:`NoDossier`."""
    with glancing(db) as connection:
        state = _state(connection, dossier)
    if state is None:
        raise NoDossier(f"there is no dossier {dossier}")
    return state


def events_of(db: Database, stream: str, after: int = 0) -> tuple[Event, ...]:
    """The events of a stream in order, those after number ``after``."""
    with glancing(db) as connection:
        return _events(connection, (events.c.stream == stream) & (events.c.n > after))


def last_event(db: Database, stream: str) -> int:
    """The number of the last event of a stream; 0 where it has none."""
    with glancing(db) as connection:
        return _last(connection, stream)[0]


def event_from(row: Mapping[Any, Any]) -> Event:
    """An event from its row; raises ValueError where its data is no JSON."""
    return Event(**{**row, "data": json.loads(row["data"])})


def row_from(event: Event) -> dict[str, Any]:
    """The row of ``events`` that keeps an event."""
    return {name: getattr(event, name) for name in events.c.keys()} | {  # noqa: SIM118
        "data": canonical(event.data)
    }


def _keys(key: str, count: int) -> list[str]:
    return [key if i == 0 else f"{key}/{i}" for i in range(count)]


def _one_at_a_time(db: Database, connection: Connection, stream: str) -> None:
    """SQLite lets in one writer of all; in PostgreSQL those of one stream queue up."""
    if not db.is_sqlite:
        connection.execute(
            text("SELECT pg_advisory_xact_lock(hashtextextended(:stream, 0))"), {"stream": stream}
        )


def _events(connection: Connection, where: Any) -> tuple[Event, ...]:
    found = connection.execute(select(events).where(where).order_by(events.c.stream, events.c.n))
    return tuple(map(event_from, found.mappings()))


def _last(connection: Connection, stream: str) -> tuple[int, str]:
    last = connection.execute(_LAST, {"stream": stream}).first()
    return (last.n, last.digest) if last else (0, "")


def _state(connection: Connection, stream: str) -> DossierState | None:
    row = connection.execute(_STATE, {"stream": stream}).first()
    return state_from_json(json.loads(row.state)) if row else None


def _check_opening(stream: str, state: DossierState | None, changes: Sequence[Change]) -> None:
    if stream == SHOP:
        return
    if state is None and changes[0].kind != "opened":
        raise NoDossier(f"there is no dossier {stream}")
    rest = changes if state is not None else changes[1:]
    if any(change.kind == "opened" for change in rest):
        raise ChangeRefused("a dossier is opened once")


def _check_undoing(connection: Connection, stream: str, changes: Sequence[Change]) -> None:
    """Only what has happened can be undone or redone; a dossier stays open."""
    for change in changes:
        if change.kind not in UNDOING:
            continue
        n = change.data["n"]
        kind = connection.execute(
            select(events.c.kind).where((events.c.stream == stream) & (events.c.n == n))
        ).scalar()
        if kind is None or kind in (*UNDOING, "opened"):
            found = "there is no such event" if kind is None else f"it is {kind!r}"
            raise ChangeRefused(f"event {n} can't be {change.kind}: {found}")


def _check_number(connection: Connection, state: DossierState) -> None:
    other = select(dossiers.c.id).where(
        (dossiers.c.number == state.number) & (dossiers.c.id != state.id)
    )
    if connection.execute(other).first() is not None:
        raise NumberTaken(f"{state.number} is the number of another amp; each has its own")


def _insert(connection: Connection, event: Event) -> Event:
    values = row_from(event)
    del values["seq"]
    made = connection.execute(insert(events).values(values).returning(events.c.seq)).scalar_one()
    # what was sent as a tuple is read back as a list: both answers should be the same
    return replace(event, seq=made, data=json.loads(values["data"]))
