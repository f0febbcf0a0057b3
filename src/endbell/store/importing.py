"""Everything in that an export holds: all of it or nothing.

A dossier that is not here is added.  One that is here is continued where one record is the
beginning of the other; where both went on after they had parted, the archive is refused, and the
sentence names the dossier.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from sqlalchemy import Connection, func, insert, select, text
from sqlalchemy.exc import DataError, IntegrityError

from .append import event_from, row_from
from .database import Database, reading, writing
from .events import SHOP, Event
from .importing_archive import Archive
from .importing_errors import ImportRefused
from .importing_people import add_people, set_sequence
from .importing_photos import Photos
from .importing_streams import state_after, streams_of
from .projections import project
from .tables import dossiers, events

__all__ = ["ImportPlan", "ImportRefused", "check_import", "import_export"]

_NAMED = 5  # dossiers named in a sentence

Step = Callable[[str, int, int], None]
"""Told now and then: what is being done, how far, of how much."""


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """What an import does, or did.

    ``fresh``: nothing was recorded here before.  ``added``, ``continued``, ``same``: numbers of
    dossiers.  ``apart``: those that went on differently here and there; they refuse the import
    unless they are left out.  ``shop_left``: the shop's own views, packs and settings differ and
    stay as they are here.
    """

    fresh: bool
    added: tuple[str, ...] = ()
    continued: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()
    events: int = 0
    photos: int = 0
    accounts: int = 0
    missing: tuple[str, ...] = ()
    shop_left: bool = False

    @property
    def anything(self) -> bool:
        """Whether there is anything to import."""
        return bool(self.events)


def check_import(
    db: Database, path: Path, *, step: Step = lambda what, done, of: None
) -> ImportPlan:
    """What importing the archive at ``path`` would do; raises :class:`ImportRefused`."""
    with _opened(path) as archive:
        archive.check(lambda done, of: step("reading", done, of))
        with reading(db) as connection:
            return _planned(db, connection, archive)[0]


def import_export(
    db: Database,
    path: Path,
    *,
    leave_apart: bool = False,
    step: Step = lambda what, done, of: None,
) -> ImportPlan:
    """Import the archive at ``path``; raises :class:`ImportRefused`, with nothing changed then.

    ``leave_apart``: dossiers that went on differently here and there are left as they are here.
    """
    with _opened(path) as archive, Photos(db) as photos:
        with reading(db) as connection:
            plan, work = _planned(db, connection, archive)
        _refuse_apart(plan, leave_apart)
        photos.take(archive, work.photos, lambda done, of: step("photos", done, of))
        try:
            with writing(db) as connection:
                if not db.is_sqlite:
                    connection.execute(text("LOCK TABLE events IN EXCLUSIVE MODE"))
                plan, work = _planned(db, connection, archive)
                _refuse_apart(plan, leave_apart)
                _write(connection, archive, plan, work, step)
                added = add_people(connection, archive, fresh=plan.fresh)
                photos.put_in_place()
        except (IntegrityError, DataError):
            raise ImportRefused(
                "it holds an id, a key or a number that something else here has already;"
                " nothing was imported"
            ) from None
        photos.keep()
        return replace(plan, photos=photos.new, accounts=added)


@dataclass(frozen=True, slots=True)
class _Work:
    """What is to be written: how many events of each stream are here, the places of the new ones
    among all, the photos that they need."""

    here: dict[str, int]
    places: dict[int, int]
    photos: tuple[str, ...]


@contextmanager
def _opened(path: Path) -> Iterator[Archive]:
    archive = Archive(path)
    try:
        yield archive
    finally:
        archive.close()


def _refuse_apart(plan: ImportPlan, leave_apart: bool) -> None:
    if plan.apart and not leave_apart:
        more = f" and {len(plan.apart) - _NAMED} more" if len(plan.apart) > _NAMED else ""
        raise ImportRefused(
            f"{', '.join(plan.apart[:_NAMED])}{more} went on differently here and in the archive;"
            " accepted: dossiers of which one record is the beginning of the other, or the import"
            " without these"
        )


def _planned(db: Database, connection: Connection, archive: Archive) -> tuple[ImportPlan, _Work]:
    """Go through all streams once and see what is to be done with each."""
    fresh = not connection.execute(select(func.count()).select_from(events)).scalar_one()
    taken = {
        row.number: row.id for row in connection.execute(select(dossiers.c.number, dossiers.c.id))
    }
    lists: dict[str, list[str]] = {"added": [], "continued": [], "same": [], "apart": []}
    here: dict[str, int] = {}
    seqs: list[int] = []
    photos: dict[str, None] = {}
    shop_left = False
    for stream, incoming in streams_of(archive):
        ours = _digests(connection, stream)
        theirs = [event.digest for event in incoming]
        both = min(len(ours), len(theirs))
        if ours[:both] != theirs[:both]:
            shop_left = shop_left or stream == SHOP
            if stream != SHOP:
                lists["apart"].append(_number(incoming, stream))
            continue
        if stream != SHOP:
            state = state_after(stream, incoming)
            if len(theirs) > len(ours):
                if taken.get(state.number, stream) != stream:
                    raise ImportRefused(
                        f"{state.number!r:.80} is the number of another dossier here; accepted:"
                        " numbers that are free, so give the one here another"
                    )
                taken[state.number] = stream
            key = "same" if len(theirs) <= len(ours) else "continued" if ours else "added"
            lists[key].append(state.number)
        if len(theirs) > len(ours):
            here[stream] = len(ours)
            seqs += [event.seq for event in incoming[len(ours) :]]
        photos |= {
            str(event.data["photo"]): None
            for event in incoming[len(ours) :]
            if event.kind == "photo-added"
        }
    wanted = _photos_wanted(db, archive, photos)
    plan = ImportPlan(
        fresh,
        *(tuple(lists[key]) for key in ("added", "continued", "same", "apart")),
        events=len(seqs),
        photos=len(wanted),
        missing=tuple(sorted(archive.missing & set(photos))),
        shop_left=shop_left,
    )
    return plan, _Work(here, _places(connection, seqs, fresh), wanted)


def _digests(connection: Connection, stream: str) -> list[str]:
    query = select(events.c.digest).where(events.c.stream == stream).order_by(events.c.n)
    return list(connection.execute(query).scalars())


def _number(incoming: tuple[Event, ...], stream: str) -> str:
    number = incoming[0].data.get("number")
    return number if isinstance(number, str) else stream


def _places(connection: Connection, seqs: list[int], fresh: bool) -> dict[int, int]:
    """Their place among all events -> the place here: the same where nothing is here yet."""
    if len(set(seqs)) != len(seqs):
        raise ImportRefused("two events have the same place among all")
    if fresh:
        return {seq: seq for seq in seqs}
    last = connection.execute(select(func.max(events.c.seq))).scalar_one() or 0
    return {seq: last + n for n, seq in enumerate(sorted(seqs), start=1)}


def _photos_wanted(db: Database, archive: Archive, named: dict[str, None]) -> tuple[str, ...]:
    """The members to take photos from; every photo that an event names must be somewhere."""
    from .photos_files import NoPhoto, original_of

    members = {name.rpartition("/")[2].partition(".")[0]: name for name in archive.photos}
    wanted: list[str] = []
    for sha256 in named:
        if sha256 in members:
            wanted.append(members[sha256])
            continue
        if sha256 not in archive.missing:
            try:
                original_of(db, sha256)
            except NoPhoto:
                raise ImportRefused(
                    f"an event names the photo {sha256:.64}, which is not in the archive"
                ) from None
    return tuple(wanted)


def _write(
    connection: Connection, archive: Archive, plan: ImportPlan, work: _Work, step: Step
) -> None:
    done = 0
    for stream, incoming in streams_of(archive):
        count = work.here.get(stream)
        if count is None:
            continue
        new = [replace(event, seq=work.places[event.seq]) for event in incoming[count:]]
        connection.execute(insert(events), [row_from(event) for event in new])
        if stream != SHOP:
            before = state_after(stream, _all(connection, stream, count)) if count else None
            project(connection, before, state_after(stream, incoming))
        done += len(new)
        step("dossiers", done, plan.events)
    if work.places and connection.dialect.name == "postgresql":
        last = connection.execute(select(func.max(events.c.seq))).scalar_one()
        set_sequence(connection, "events", last)


def _all(connection: Connection, stream: str, count: int) -> tuple[Event, ...]:
    query = (
        select(events)
        .where((events.c.stream == stream) & (events.c.n <= count))
        .order_by(events.c.n)
    )
    return tuple(map(event_from, connection.execute(query).mappings()))
