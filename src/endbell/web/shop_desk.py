"""Recording in the shop's own packs: what they hold, what would be wrong, who changed what."""

from __future__ import annotations

import difflib
import hashlib
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ..reference.names import name_source
from ..store import SHOP, Appended, Change, append, events_of
from ..store.shop_packs import PackChange, changes_of, pack_file_set, pack_files
from .desk import Desk
from .pack_checks import Checked, check_files, write_files
from .pack_library import RESERVED, Library
from .pack_rows import new_pack
from .refusal import Refusal, not_found
from .sessions import Person

SHOP_PACK = "shop"
SHOP_TITLE = "The shop’s own reference"


@dataclass(frozen=True, slots=True)
class DiffLine:
    """A line of a comparison: 'same', 'gone', 'new', or 'gap' where lines are left out."""

    kind: str
    text: str


def own_files(desk: Desk, pack: str) -> dict[str, str]:
    """The files of a pack of the shop's own.  Refuses with 404."""
    files = pack_files(desk.db).get(pack)
    if files is None:
        raise not_found("such pack of the shop’s own")
    return files


def record(desk: Desk, person: Person, changes: list[Change], key: str = "") -> Appended:
    """Record changes in the stream of the shop."""
    return append(desk.db, SHOP, changes, by=person.by, key=key or None)


def set_files(
    desk: Desk,
    person: Person,
    pack: str,
    before: Mapping[str, str],
    after: Mapping[str, str],
    key: str = "",
) -> None:
    """Record every file that has become another; refuses a pack that could not be read at all."""
    changes = [
        pack_file_set(pack, name, text) for name, text in after.items() if before.get(name) != text
    ]
    if not changes:
        return
    checked = checked_files(desk, pack, after)
    if not checked.readable:
        trouble = next(t for t in checked.troubles if not t.table)
        raise Refusal(422, f"{trouble.file}: {trouble.found}", trouble.accepted)
    record(desk, person, changes, key)


def checked_files(desk: Desk, pack: str, files: Mapping[str, str]) -> Checked:
    """What is wrong with a pack of these files, beside the packs there are."""
    library = Library(desk.packs)
    return check_files(pack, files, library.search, library.ids)


def made(desk: Desk, pack: str, title: str, builds_on: list[str]) -> dict[str, str]:
    """The files of a new pack.  Refuses an id that is taken."""
    library = Library(desk.packs)
    if pack in library.ids or pack.lower() in RESERVED:
        taken = ", ".join((*library.ids, *sorted(RESERVED - set(library.ids))))
        raise Refusal(422, f"a pack called '{pack}', which there is", f"a name besides {taken}")
    wrong = [name for name in builds_on if name not in library.ids]
    if wrong:
        raise Refusal(422, f"builds on '{wrong[0]}'", f"one of {', '.join(library.ids)}")
    files = new_pack(pack, title.strip() or SHOP_TITLE, builds_on)
    pack_file_set(pack, "pack.toml", files["pack.toml"])  # refuses a name that can't be a folder's
    return files


def named(
    pack: str, files: Mapping[str, str], number: str, name: str, source: str
) -> dict[str, str]:
    """The files with a name for a source number, written as ``endbell packs name-source`` does.

    Refuses what is no number or no name; raises SourceNameTaken.
    """
    with tempfile.TemporaryDirectory(prefix="endbell-pack-") as place:
        folder = Path(place) / pack
        write_files(folder, files)
        try:
            name_source(folder, number, name, source=source.strip() or "shop records")
        except ValueError as error:
            raise Refusal(422, str(error)) from None
        return {path.name: path.read_bytes().decode("utf-8") for path in sorted(folder.iterdir())}


def history_of(desk: Desk, pack: str) -> tuple[PackChange, ...]:
    """Every change of a pack, the latest first."""
    return tuple(reversed(changes_of(events_of(desk.db, SHOP), pack)))


def compared(before: str | None, after: str | None) -> tuple[DiffLine, ...]:
    """Two versions of a file line by line, with two lines around each difference."""
    old, new = (before or "").splitlines(), (after or "").splitlines()
    lines: list[DiffLine] = []
    for line in list(difflib.unified_diff(old, new, n=2, lineterm=""))[2:]:
        if line.startswith("@@"):
            if lines:
                lines.append(DiffLine("gap", ""))
            continue
        kind = {"+": "new", "-": "gone"}.get(line[:1], "same")
        lines.append(DiffLine(kind, line[1:]))
    return tuple(lines)


def stamp_of(text: str | None) -> str:
    """By which a form says which text it began with."""
    return hashlib.sha256((text or "").encode()).hexdigest()[:16]
