"""A backup: one file with every table that holds a record, and every photo, checked when written.

The same form for SQLite and PostgreSQL, so that one can be restored into the other.  What follows
from events is left out and made anew.  It holds the hashes of passwords: keep it like the shop's
own data.
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Any

from sqlalchemy import Connection, Table, insert, select, text

from .. import __version__
from .account_tables import metadata
from .append import event_from
from .database import Database, writing
from .events import canonical, digest_of
from .opening import HEAD
from .photos_files import KINDS, NoPhoto, flush_folder, incoming, original_of, put_in_place
from .rebuild import DERIVED, rebuild
from .tables import events

FORMAT = "endbell-backup/1"
MANIFEST = "backup.json"
_BLOCK = 2**20
_DAY = (2026, 1, 1, 0, 0, 0)

Step = Callable[[str, int, int], None]
"""Told now and then: what is done, how much of it, of how much."""


class BackupRefused(Exception):
    """The backup can't be written or restored; the sentence says why and what would do."""


def kept_tables() -> tuple[Table, ...]:
    """The tables of a backup, each after those it points to."""
    return tuple(t for t in metadata.sorted_tables if t not in DERIVED)


def backup(
    db: Database, out: Path, step: Step = lambda what, done, of: None, now: datetime | None = None
) -> dict[str, Any]:
    """Write one state of the database and its photos to ``out``; what its manifest says.

    May run while the workbench is in use.  The file has its name only when it has been read back
    and found right.  Raises :class:`BackupRefused`.
    """
    if out.exists():
        raise BackupRefused(f"{out} is there already; accepted: the name of a new file")
    part = out.with_name(out.name + ".part")
    try:
        manifest = _write(db, part, step, now or datetime.now(UTC))
        verify(part, step)
        os.replace(part, out)
        flush_folder(out.resolve().parent)
    finally:
        part.unlink(missing_ok=True)
    return manifest


def verify(path: Path, step: Step = lambda what, done, of: None) -> dict[str, Any]:
    """Read a backup through: every member as its manifest says, every event sealed.

    Gives the manifest; raises :class:`BackupRefused` with what is wrong.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            manifest = _manifest(archive, path)
            members: dict[str, str] = manifest["members"]
            names = set(archive.namelist()) - {MANIFEST}
            if len(archive.namelist()) != len(names) + 1 or names != set(members):
                raise BackupRefused(f"{path}: its members are not those it lists")
            for done, (name, wanted) in enumerate(members.items(), start=1):
                with archive.open(name) as stream:
                    if _digest(stream) != wanted:
                        raise BackupRefused(f"{path}: {name} is not what was written")
                step("checked", done, len(members))
            _check_seals(archive, path)
    except (zipfile.BadZipFile, OSError, ValueError, KeyError) as error:
        raise BackupRefused(f"{path} is no whole backup: {error}") from error
    return manifest


def restore(db: Database, path: Path, step: Step = lambda what, done, of: None) -> dict[str, Any]:
    """Fill the empty ``db`` from a backup: all of it or nothing; what its manifest says.

    Raises :class:`BackupRefused` where the backup is not whole or the database not empty.
    """
    manifest = verify(path, step)
    if manifest["schema"] > HEAD:
        raise BackupRefused(
            f"{path} was written by a newer Endbell ({manifest['endbell']}); accepted: that one"
        )
    with db.engine.connect() as connection:
        for table in kept_tables():
            if connection.execute(select(table).limit(1)).first() is not None:
                raise BackupRefused(
                    f"the database is not empty ({table.name}); accepted: a new folder, or --over"
                )
    with zipfile.ZipFile(path) as archive:
        photos = [name for name in manifest["members"] if name.startswith("photos/")]
        for done, name in enumerate(photos, start=1):
            _photo_back(db, archive, name)
            step("photos", done, len(photos))
        with writing(db) as connection:
            for table in kept_tables():
                _rows_back(db, connection, archive, table)
    dossiers: int = manifest["counts"]["dossiers"]
    rebuild(db, lambda done: step("dossiers", done, dossiers))
    return manifest


# ---- writing


def _write(db: Database, part: Path, step: Step, now: datetime) -> dict[str, Any]:
    members: dict[str, str] = {}
    counts: dict[str, int] = {}
    with zipfile.ZipFile(part, "x", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:
        photos = _write_tables(db, archive, members, counts)
        missing: list[str] = []
        for done, sha256 in enumerate(photos, start=1):
            try:
                path = original_of(db, sha256).path
            except NoPhoto:
                missing.append(sha256)
                continue
            name = f"photos/{sha256[:2]}/{path.name}"
            with open(path, "rb") as stream:
                members[name] = _store(archive, name, stream, compress=False)
            if members[name] != sha256:
                raise BackupRefused(
                    f"{path}: its bytes are not those that were kept; endbell doctor says more"
                )
            step("photos", done, len(photos))
        if missing:
            raise BackupRefused(
                f"photo {missing[0]} is missing, and {len(missing) - 1} more; "
                "endbell doctor says more"
            )
        manifest = {
            "format": FORMAT,
            "endbell": __version__,
            "schema": HEAD,
            "taken": now.strftime("%Y-%m-%dT%H:%M:%S.%fZ"),
            "counts": counts | {"photos": len(photos)},
            "members": members,
        }
        archive.writestr(_info(MANIFEST), json.dumps(manifest, indent=1))
    with open(part, "rb+") as stream:
        os.fsync(stream.fileno())
    return manifest


def _write_tables(
    db: Database, archive: zipfile.ZipFile, members: dict[str, str], counts: dict[str, int]
) -> list[str]:
    """All rows of one state of the database; the hashes of the photos that it tells of."""
    with db.engine.connect() as connection:
        if not db.is_sqlite:
            connection = connection.execution_options(
                isolation_level="REPEATABLE READ", postgresql_readonly=True
            )
        with connection.begin():
            for table in kept_tables():
                with TemporaryFile(dir=incoming(db)) as held:
                    counts[table.name] = 0
                    query = select(table).order_by(*table.primary_key.columns)
                    for row in connection.execute(query.execution_options(yield_per=1_000)):
                        held.write((canonical(list(row)) + "\n").encode("utf-8", "surrogatepass"))
                        counts[table.name] += 1
                    held.seek(0)
                    name = f"tables/{table.name}.jsonl"
                    members[name] = _store(archive, name, held, compress=True)
            counts["dossiers"] = connection.execute(
                text("SELECT count(DISTINCT stream) FROM events WHERE kind = 'opened'")
            ).scalar_one()
            told = connection.execute(select(events.c.data).where(events.c.kind == "photo-added"))
            return sorted({json.loads(row.data)["photo"] for row in told})


def _store(archive: zipfile.ZipFile, name: str, stream: IO[bytes], *, compress: bool) -> str:
    digest = hashlib.sha256()
    with archive.open(_info(name, compress), "w", force_zip64=True) as member:
        while block := stream.read(_BLOCK):
            digest.update(block)
            member.write(block)
    return digest.hexdigest()


def _info(name: str, compress: bool = True) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, _DAY)
    info.compress_type = zipfile.ZIP_DEFLATED if compress else zipfile.ZIP_STORED
    info.external_attr = 0o600 << 16
    return info


# ---- reading


def _manifest(archive: zipfile.ZipFile, path: Path) -> dict[str, Any]:
    manifest = json.loads(archive.read(MANIFEST))
    if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
        raise BackupRefused(f"{path} is no backup of Endbell's; accepted: format {FORMAT}")
    return manifest


def _digest(stream: IO[bytes]) -> str:
    digest = hashlib.sha256()
    while block := stream.read(_BLOCK):
        digest.update(block)
    return digest.hexdigest()


def _lines(archive: zipfile.ZipFile, table: Table) -> Iterator[dict[str, Any]]:
    columns = [column.name for column in table.columns]
    with archive.open(f"tables/{table.name}.jsonl") as stream:
        for line in stream:
            yield dict(zip(columns, json.loads(line), strict=True))


def _check_seals(archive: zipfile.ZipFile, path: Path) -> None:
    """Every stream's events without a gap, each sealed with the one before it."""
    last: dict[str, tuple[int, str]] = {}
    for row in _lines(archive, events):
        event = event_from(row)
        n, before = last.get(event.stream, (0, ""))
        if event.n != n + 1 or digest_of(before, event) != event.digest:
            raise BackupRefused(
                f"{path}: event {event.n} of {event.stream} is not what was sealed; "
                "endbell doctor says more"
            )
        last[event.stream] = (event.n, event.digest)


def _rows_back(
    db: Database, connection: Connection, archive: zipfile.ZipFile, table: Table
) -> None:
    held: list[dict[str, Any]] = []
    for row in _lines(archive, table):
        held.append(row)
        if len(held) == 1_000:
            connection.execute(insert(table), held)
            held = []
    if held:
        connection.execute(insert(table), held)
    (first, *others) = table.primary_key.columns
    if not db.is_sqlite and not others and first.autoincrement is True:
        # what comes next is numbered after what came back
        connection.execute(
            text(
                f"SELECT setval(pg_get_serial_sequence('{table.name}', '{first.name}'), "
                f"greatest(1, (SELECT coalesce(max({first.name}), 1) FROM {table.name})))"
            )
        )


def _photo_back(db: Database, archive: zipfile.ZipFile, name: str) -> None:
    folder, file = name.removeprefix("photos/").split("/")
    sha256, _, ending = file.partition(".")
    if len(sha256) != 64 or folder != sha256[:2] or ending not in {k.ending for k in KINDS}:
        raise BackupRefused(f"{name} is no name of a photo")
    written = incoming(db) / f"{sha256}.part"
    with archive.open(name) as stream, open(written, "wb") as out:
        while block := stream.read(_BLOCK):
            out.write(block)
        out.flush()
        os.fsync(out.fileno())
    put_in_place(written, db.folder / "photos" / folder / file)
