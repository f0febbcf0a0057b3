"""What was handed in to be imported: the file, what is known of it, how far its work has come.

Each import is a file and a note beside it in the shop's folder, so that a server that was stopped
knows afterwards what had been begun.
"""

from __future__ import annotations

import hashlib
import json
import re
import threading
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, BinaryIO
from weakref import WeakKeyDictionary

from ..batch.tables import TABLES
from ..store import new_id
from ..store.photos_files import write_whole
from ..store.photos_kinds import shown_name
from .desk import Desk

_ID = re.compile(r"[0-9A-HJKMNP-TV-Z]{26}")
_BLOCK = 2**20


@dataclass
class Import:
    """One import.  ``state``: new, running, checked, done, refused, undone; ``kind``: export or
    table; ``made``: dossiers that came of it, each with its version then."""

    id: str
    name: str
    kind: str
    sha256: str
    by: str
    state: str = "new"
    says: str = ""
    given: dict[str, str] = field(default_factory=dict[str, str])
    plan: dict[str, Any] = field(default_factory=dict[str, Any])
    made: dict[str, int] = field(default_factory=dict[str, int])
    attempt: int = 0
    bad: int = 0


@dataclass
class Progress:
    """How far work has come: what is being done, how much, of how much (0: not known)."""

    what: str = "beginning"
    done: int = 0
    of: int = 0

    def __call__(self, what: str, done: int, of: int) -> None:
        self.what, self.done, self.of = what, done, of


_RUNNING: WeakKeyDictionary[Desk, dict[str, Progress]] = WeakKeyDictionary()


def folder(desk: Desk) -> Path:
    """Where imports lie."""
    made = desk.db.folder / "imports"
    made.mkdir(parents=True, exist_ok=True)
    return made


def file_of(desk: Desk, one: Import) -> Path:
    """The file as it was handed in, under a name of ours."""
    ending = Path(one.name).suffix.lower()
    if one.kind == "export":
        ending = ".zip"
    return folder(desk) / f"{one.id}{ending if ending in (*TABLES, '.zip') else '.csv'}"


def bad_rows_of(desk: Desk, one: Import) -> Path:
    """The list of rows that are not weighed."""
    return folder(desk) / f"{one.id}-bad-rows.csv.txt"


def hand_in(desk: Desk, stream: BinaryIO, name: str, by: str) -> Import:
    """Keep a file that was handed in; what it is, its first bytes and its name's ending say."""
    stream.seek(0)
    head = stream.read(4)
    name = shown_name(name)
    sheet = name.lower().endswith(".xlsx")
    kind = "export" if head.startswith(b"PK") and not sheet else "table"
    one = Import(new_id(), name, kind, "", by)
    hashed = hashlib.sha256()
    stream.seek(0)
    with open(file_of(desk, one), "xb") as out:
        while block := stream.read(_BLOCK):
            hashed.update(block)
            out.write(block)
    one.sha256 = hashed.hexdigest()
    one.attempt = sum(o.sha256 == one.sha256 and o.state == "undone" for o in imports(desk))
    save(desk, one)
    return one


def save(desk: Desk, one: Import) -> None:
    """Write the note of an import."""
    text = json.dumps(asdict(one), ensure_ascii=False, indent=1)
    write_whole(folder(desk) / f"{one.id}.json", text.encode())


def import_of(desk: Desk, import_id: str) -> Import | None:
    """The import with that id; one that was running when the server stopped is new again."""
    path = folder(desk) / f"{import_id}.json"
    if not _ID.fullmatch(import_id) or not path.is_file():
        return None
    one = Import(**json.loads(path.read_text(encoding="utf-8")))
    if one.state == "running" and progress_of(desk, one) is None:
        one.state = "new"
        one.says = "The server was stopped meanwhile. Begun again, it goes on where it was."
    return one


def imports(desk: Desk) -> Iterator[Import]:
    """All imports, the latest first."""
    for path in sorted(folder(desk).glob("*.json"), reverse=True):
        one = import_of(desk, path.stem)
        if one is not None:
            yield one


def progress_of(desk: Desk, one: Import) -> Progress | None:
    """How far its work has come; None where none is being done."""
    return _RUNNING.get(desk, {}).get(one.id)


def begin(desk: Desk, one: Import, work: Callable[[Progress], None]) -> None:
    """Do ``work`` beside the requests; the note says what came of it."""
    running = _RUNNING.setdefault(desk, {})
    if one.id in running:
        return  # asked for twice: it is being done
    step = running[one.id] = Progress()
    one.state, one.says = "running", ""
    save(desk, one)

    def do() -> None:
        from .errors import refusal_of

        try:
            work(step)
        except ValueError as error:  # a sentence of the rooms below
            one.state, one.says = "refused", str(error)
        except Exception as error:
            refusal = refusal_of(error)
            one.state, one.says = "refused", f"{refusal.found}; accepted: {refusal.accepted}"
        finally:
            if one.state == "running":
                one.state = "done"
            save(desk, one)
            running.pop(one.id, None)

    threading.Thread(target=do, name=f"import {one.id}", daemon=True).start()
