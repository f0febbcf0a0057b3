"""Whether everything that was recorded is still there, unaltered, and what follows from it right.

Nothing is mended here: each finding says where, what was found and what would mend it.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select, text
from sqlalchemy.exc import DBAPIError

from .append import event_from
from .database import Database, reading
from .events import DOSSIER_KINDS, SHOP, SHOP_KINDS, Event, digest_of
from .fold import fold
from .photos_files import NoPhoto, original_of
from .rebuild import Rows, rows_of
from .state import DossierState
from .tables import dossiers, events, marks, photos, search_text, strips, tags

Step = Callable[[str, int, int], None]
"""Told now and then: what is looked at, how much of it is done, of how much."""

REBUILD = "endbell doctor --mend makes it anew from the events"
BACKUP = "take it from a backup (endbell restore into another folder)"
_ORIGINAL = re.compile(r"([0-9a-f]{64})\.[a-z0-9]+")
_THUMB = re.compile(r"([0-9a-f]{64})-[0-9]+\.webp")
_BLOCK = 2**20


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that is not as it should be.

    ``what``: a word for this sort of damage; ``mendable``: whether it follows from what is intact;
    ``grave`` False: nothing is lost or wrong, it is only said.
    """

    what: str
    where: str
    found: str
    mend: str
    mendable: bool = False
    grave: bool = True


def examine(db: Database, step: Step = lambda what, done, of: None) -> tuple[Finding, ...]:
    """Look at everything: the file, events, what follows from them, photos."""
    damaged = _file(db)
    if damaged:  # rows of a damaged file say nothing
        return damaged
    with reading(db) as connection:
        found: list[Finding] = []
        states: dict[str, DossierState] = {}
        total = connection.execute(text("SELECT count(*) FROM events")).scalar_one()
        told: dict[str, str] = {}
        found += _events(connection, states, told, lambda done: step("events", done, total))
        sound = not found
        found += _projections(db, connection, states, step)
    found += _photos(db, told, step)
    if sound:  # else nobody can say which photos a damaged record told of
        found += _left_over(db, told)
    return tuple(found)


def _file(db: Database) -> tuple[Finding, ...]:
    """What SQLite itself says of its file."""
    if not db.is_sqlite:
        return ()
    try:
        with reading(db) as connection:
            said = [row[0] for row in connection.execute(text("PRAGMA integrity_check(20)"))]
            loose = list(connection.execute(text("PRAGMA foreign_key_check")))
    except DBAPIError as error:
        said, loose = [str(error.orig)], []
    broken = [
        Finding("damaged file", "the database", line, BACKUP) for line in said if line != "ok"
    ]
    return (
        *broken,
        *(
            Finding(
                "loose row",
                f"{row[0]}, row {row[1]}",
                f"it belongs to no row of {row[2]}",
                REBUILD,
                mendable=True,
            )
            for row in loose
        ),
    )


# ---- events


def _events(
    connection: Connection,
    states: dict[str, DossierState],
    told: dict[str, str],
    step: Callable[[int], None],
) -> Iterator[Finding]:
    """Every event readable, in its place, sealed.

    Fills ``states`` with those of the streams that are sound, ``told`` with the photos that events
    tell of, undone or not, and their names.
    """
    query = select(events).order_by(events.c.stream, events.c.n).execution_options(yield_per=1_000)
    name, held, sound, n, before = "", list[Event](), True, 0, ""
    for done, row in enumerate(connection.execute(query).mappings(), start=1):
        if row["stream"] != name:
            if held and sound and name != SHOP:
                states[name] = fold(name, held)
            name, held, sound, n, before = row["stream"], [], True, 0, ""
        event, problems = _event(row, n + 1, before)
        yield from problems
        if event is None or problems:
            sound = False
        else:
            held.append(event)
            if event.kind == "photo-added":
                told[event.data["photo"]] = event.data["name"]
        n, before = row["n"], row["digest"]
        if done % 500 == 0:
            step(done)
    if held and sound and name != SHOP:
        states[name] = fold(name, held)


def _event(row: Mapping[Any, Any], n: int, before: str) -> tuple[Event | None, list[Finding]]:
    """The event in a row that should be the ``n``-th; None where it can't be read."""
    where = f"event {row['n']} of {row['stream']}"
    found: list[Finding] = []
    if row["n"] != n:
        missing = f"events {n} to {row['n'] - 1}" if row["n"] - n > 1 else f"event {n}"
        found.append(Finding("event missing", where, f"{missing} before it is gone", BACKUP))
    if row["kind"] not in (SHOP_KINDS if row["stream"] == SHOP else DOSSIER_KINDS):
        said = f"a kind {row['kind']!r} that this Endbell does not know"
        mend = "install the Endbell that wrote it, or " + BACKUP
        found.append(Finding("unknown kind", where, said, mend))
    try:
        event = event_from(row)
        digest = digest_of(before, event)
    except (ValueError, TypeError) as error:
        said = f"its data can't be read: {error}"
        return None, [*found, Finding("unreadable event", where, said, BACKUP)]
    # after a gap the seal of the one before is not known
    if row["n"] == n and digest != event.digest:
        found.append(Finding("event altered", where, "it is not what was sealed", BACKUP))
    return event, found


# ---- what follows from them


def _projections(
    db: Database, connection: Connection, states: Mapping[str, DossierState], step: Step
) -> Iterator[Finding]:
    known = {row.id for row in connection.execute(select(dossiers.c.id))}
    begun = set(connection.execute(select(events.c.stream).distinct()).scalars()) - {SHOP}
    for lost in sorted(known - begun):
        yield Finding("events missing", f"dossier {lost}", "all its events are gone", BACKUP)
    for done, state in enumerate(states.values(), start=1):
        yield from _dossier(connection, state, rows_of(state))
        if done % 200 == 0:
            step("dossiers", done, len(states))
    for row in connection.execute(
        select(strips.c.dossier, strips.c.version, dossiers.c.version).join(
            dossiers, dossiers.c.id == strips.c.dossier
        )
    ):
        if row[1] > row[2]:
            found = f"of version {row[1]}, the dossier is at {row[2]}"
            yield Finding("strip from nowhere", f"strip of {row[0]}", found, REBUILD, True)
    if db.is_sqlite:
        yield from _index(connection)


def _dossier(connection: Connection, state: DossierState, rows: Rows) -> Iterator[Finding]:
    """One dossier's rows against those that its events make."""
    name = f"dossier {state.number or state.id}"
    row = connection.execute(select(dossiers).where(dossiers.c.id == state.id)).first()
    if row is None:
        yield Finding("row missing", name, "its row is gone", REBUILD, True)
        return
    if row.version > state.version:
        found = f"it was at event {row.version}, the last that is there is {state.version}"
        yield Finding("events missing", name, found, BACKUP)
        return
    wrong = [key for key, value in rows.dossier.items() if row._mapping[key] != value]  # pyright: ignore[reportPrivateUsage]
    if wrong:
        found = f"{', '.join(wrong)} not as its events say"
        yield Finding("row altered", name, found, REBUILD, True)
    for table, wanted in (("marks", rows.marks), ("photos", rows.photos)):
        source = marks if table == "marks" else photos
        there = connection.execute(select(source).where(source.c.dossier == state.id)).mappings()
        yield from _set(name, table, [dict(r) for r in there], wanted)
    there = connection.execute(select(tags.c.tag).where(tags.c.dossier == state.id)).scalars()
    if sorted(there) != rows.tags:
        yield Finding("row altered", name, "tags not as its events say", REBUILD, True)
    found_text = connection.execute(
        select(search_text.c.dossier, search_text.c.lines, search_text.c.body).where(
            search_text.c.dossier == state.id
        )
    ).first()
    if found_text is None:
        yield Finding("search row missing", name, "it can't be found by searching", REBUILD, True)
    elif tuple(found_text) != tuple(rows.search.values()):
        yield Finding("search row altered", name, "the search holds other words", REBUILD, True)


def _set(
    name: str, table: str, there: list[dict[str, Any]], wanted: list[dict[str, Any]]
) -> Iterator[Finding]:
    left = [row for row in there if row not in wanted]
    gone = [row for row in wanted if row not in there]
    if left or gone:
        found = f"{len(left)} rows of {table} that no event tells of, {len(gone)} missing"
        yield Finding("row altered", name, found, REBUILD, True)


def _index(connection: Connection) -> Iterator[Finding]:
    """FTS5's own index against the words it was made of."""
    check = text("INSERT INTO search(search, rank) VALUES ('integrity-check', 1)")
    try:
        connection.execute(check)
    except DBAPIError as error:
        yield Finding("search index damaged", "the search", str(error.orig), REBUILD, True)


# ---- photos


def _photos(db: Database, told: Mapping[str, str], step: Step) -> Iterator[Finding]:
    for done, (sha256, name) in enumerate(sorted(told.items()), start=1):
        where = f"photo {sha256[:12]}… ({name})"
        try:
            found = _digest(original_of(db, sha256).path)
        except NoPhoto:
            path = _lying(db.folder, sha256)
            if path is None:
                yield Finding("photo missing", where, "its file is gone", BACKUP)
            else:
                yield Finding("photo altered", where, f"{path.name} is no picture", BACKUP)
            continue
        if found != sha256:
            yield Finding("photo altered", where, f"its bytes have the hash {found[:12]}…", BACKUP)
        step("photos", done, len(told))


def _left_over(db: Database, wanted: Collection[str]) -> Iterator[Finding]:
    for path in sorted((db.folder / "photos").glob("*/*")):
        name = _ORIGINAL.fullmatch(path.name)
        if path.parent.name != "incoming" and (name is None or name[1] not in wanted):
            yield _extra("file left over", path, db.folder)
    for path in sorted((db.folder / "thumbs").glob("*/*")):
        name = _THUMB.fullmatch(path.name)
        if name is None or name[1] not in wanted:
            yield _extra("small picture left over", path, db.folder)


def _extra(what: str, path: Path, folder: Path) -> Finding:
    """An upload that was broken off before it was recorded leaves a photo of no dossier."""
    thumb = what.startswith("small")
    mend = "endbell doctor --mend takes it away" if thumb else "look at it; move it elsewhere"
    where = str(path.relative_to(folder))
    return Finding(what, where, "no event tells of it", mend, mendable=thumb, grave=False)


def _lying(folder: Path, sha256: str) -> Path | None:
    return next((folder / "photos" / sha256[:2]).glob(f"{sha256}.*"), None)


def _digest(path: Path) -> str:
    digest = hashlib.sha256()
    with open(path, "rb") as stream:
        while block := stream.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()
