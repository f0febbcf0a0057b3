"""A small shop with everything in it that a database can hold, and databases to compare."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Table, select

from endbell.store import By, Change, Database, append, new_id, open_database
from endbell.store.account_tables import accounts, devices
from endbell.store.accounts import add_account
from endbell.store.database import reading, writing
from endbell.store.photos import keep
from endbell.store.tables import metadata

from .pictures import heic, jpeg, saved, scene

BY = By("RT", "phone of the bench")
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)

SECRET = frozenset({"devices.secret", "accounts.password"})
APART = frozenset({"sessions", "links", "shares", "api_tokens", "tries", "strips", "account_log"})
"""Tables of secrets and caches; the log of accounts is judged by itself."""


def empty(folder: Path, url: str | None = None) -> Database:
    """A database with its tables and nothing in them."""
    return open_database(folder, url)


def book_in(db: Database, number: str, **claim: str) -> str:
    """A new dossier."""
    stream = new_id()
    data = {"number": number, "purpose": "buy", "packs": ["brackwater"], "claim": claim}
    append(db, stream, [Change("opened", data)], by=BY, now=START)
    return stream


def mark(part: str, text: str, **more: Any) -> Change:
    """A mark entered."""
    row = {"part": part, "kind": "source-date-code", "text": text, **more}
    return Change("mark-set", {"mark": new_id(), "row": row})


def photo(db: Database, data: bytes, **where: str) -> Change:
    """A photo kept, and the change that adds it."""
    kept = keep(db, [data], "IMG.jpg")
    return Change(
        "photo-added",
        {"photo": kept.sha256, "name": kept.name, "type": kept.type, "bytes": kept.bytes,
         "width": kept.width, "height": kept.height, **where},
    )  # fmt: skip


def stock(db: Database) -> list[str]:
    """Three dossiers with all that can happen to one, the shop's own settings, people."""
    add_account(db, "Ana", "owner", password="hash-of-ana", now=START)
    rt = add_account(db, "RT", "technician", password="hash-of-rt", now=START)
    with writing(db) as connection:
        connection.execute(devices.insert().values(
            id=new_id(), secret="5" * 64, name="phone of the bench", made_at="2026", seen_at="2026"
        ))  # fmt: skip
    by = By(rt.id, "phone of the bench")
    ids = [book_in(db, f"TRV-{n}", model="lantern-20", built="1964") for n in (1, 2, 3)]
    when = START
    for n, stream in enumerate(ids):
        first = mark("ot", "993-354", note="Größe “1½” \u2603 \x00")
        changes = [
            first,
            mark("pot-1", f"992-57{n}8"),
            Change("intake-set", {"intake": {"whose": "A. Customer", "why": "hums"}}),
            Change("tags-set", {"tags": ["window", "1964"]}),
            photo(db, jpeg(6, size=(40 + n, 30)), mark=str(first.data["mark"])),
            photo(db, saved(scene(20 + n, 20), "PNG"), part="label"),
            Change("repair-set", {"repair": new_id(), "row": {"part": "elco-1", "done": "1998"}}),
            Change("part-set", {"row": {"id": "ot", "class": "output-transformer"}}),
            Change("known-set", {"known": {"made": "1961/1967"}}),
            Change("note-set", {"note": "as found"}),
            Change("caution-acknowledged", {"level": "chassis-out", "name": "RT"}),
        ]
        for change in changes:
            when += timedelta(seconds=7)
            append(db, stream, [change], by=by, now=when)
    append(db, ids[0], [Change("undone", {"n": 3})], by=by, now=when)
    append(db, ids[0], [Change("undone", {"n": 7})], by=by, now=when)  # the photo of the label
    append(db, ids[0], [Change("redone", {"n": 3})], by=by, now=when)
    append(db, ids[1], [photo(db, heic(scene(64, 48))), Change("closed")], by=by, now=when)
    view = {"view": new_id(), "name": "on the bench", "query": {"closed": "no"}}
    append(db, "shop", [Change("view-saved", view)], by=by, now=when)
    return ids


def contents(db: Database) -> Mapping[str, list[tuple[Any, ...]]]:
    """Every row of every table that an export should bring back, secrets left out."""
    out: dict[str, list[tuple[Any, ...]]] = {}
    with reading(db) as connection:
        for name, table in metadata.tables.items():
            if name in APART:
                continue
            columns = [c for c in table.columns if f"{name}.{c.name}" not in SECRET]
            rows = connection.execute(select(*columns))
            out[name] = sorted((tuple(row) for row in rows), key=repr)
    return out


def rows_of(db: Database, table: Table) -> list[tuple[Any, ...]]:
    """The rows of one table."""
    with reading(db) as connection:
        return [tuple(row) for row in connection.execute(select(table))]


def files_of(db: Database) -> dict[str, bytes]:
    """The originals in the folder."""
    folder = db.folder / "photos"
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


__all__ = ["accounts", "book_in", "contents", "empty", "files_of", "mark", "photo", "stock"]
