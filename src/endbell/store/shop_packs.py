"""The shop's own packs as its events have made them: whole files of text, with their history.

Pure folds over the events of the stream 'shop'; only :func:`pack_files` reads the database.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from .append import events_of
from .database import Database
from .events import SHOP, Change, ChangeRefused, Event
from .fold import undone_of

Files = Mapping[str, Mapping[str, str]]
"""Pack -> name of a file -> its text."""

KINDS = ("pack-file-set", "pack-file-removed")
_PACK = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,59}")
_FILE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,59}\.(toml|csv)")


@dataclass(frozen=True, slots=True)
class PackChange:
    """One change of one file.  ``content`` None: the file was removed; ``before`` None: it was new.

    ``before`` is what stood there when it was made, leaving out what has been undone since.
    ``in_force``: what the file holds now comes from this change.
    """

    n: int
    at: str
    who: str
    pack: str
    file: str
    content: str | None
    before: str | None
    undone: bool
    in_force: bool


def pack_files(db: Database) -> dict[str, dict[str, str]]:
    """The files of every pack of the shop's own, now."""
    return files_after(events_of(db, SHOP))


def files_after(events: Iterable[Event]) -> dict[str, dict[str, str]]:
    """The files that ``events`` (of the stream 'shop', in order) leave; no pack without a file."""
    packs: dict[str, dict[str, str]] = {}
    for change in changes_of(events):
        if change.undone:
            continue
        files = packs.setdefault(change.pack, {})
        if change.content is None:
            files.pop(change.file, None)
        else:
            files[change.file] = change.content
    return {pack: files for pack, files in packs.items() if files}


def changes_of(events: Iterable[Event], pack: str | None = None) -> tuple[PackChange, ...]:
    """Every change of the shop's packs (or of one) in order, the undone ones with them."""
    listed = tuple(events)
    undone = undone_of(listed)
    now: dict[tuple[str, str], str | None] = {}
    last: dict[tuple[str, str], int] = {}
    made: list[PackChange] = []
    for event in listed:
        if event.kind not in KINDS:
            continue
        place = (event.data["pack"], event.data["file"])
        content = event.data.get("content")
        gone = event.n in undone
        made.append(
            PackChange(
                event.n, event.at, event.who, *place, content, now.get(place), gone, in_force=False
            )
        )
        if not gone:
            now[place] = content
            last[place] = len(made) - 1
    for at in last.values():
        made[at] = replace(made[at], in_force=True)
    return tuple(change for change in made if pack is None or change.pack == pack)


def pack_file_set(pack: str, file: str, content: str) -> Change:
    """The change that gives a pack's file this text.

    Raises :class:`ChangeRefused` for a pack or file whose name could lead out of its folder.
    """
    _check_names(pack, file)
    return Change("pack-file-set", {"pack": pack, "file": file, "content": content})


def pack_file_removed(pack: str, file: str) -> Change:
    """The change that takes a file out of a pack."""
    _check_names(pack, file)
    return Change("pack-file-removed", {"pack": pack, "file": file})


def _check_names(pack: str, file: str) -> None:
    if not _PACK.fullmatch(pack):
        raise ChangeRefused(
            f"a pack called {pack!r}; letters, digits, '-', '.' and '_' make a pack's id"
        )
    if not _FILE.fullmatch(file):
        raise ChangeRefused(f"a file called {file!r}; a name ending in .toml or .csv is accepted")
