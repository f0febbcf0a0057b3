"""Opening a shop's database, with the tables that this Endbell works with."""

from __future__ import annotations

import re
from pathlib import Path

from sqlalchemy import inspect, text

from .database import Database, DatabaseError, connect, writing

HEAD = "0002"
"""The newest migration in ``migrations/versions``."""

_SHARED = ("nfs", "nfs4", "cifs", "smb", "smb2", "smb3", "smbfs", "afs", "ncpfs", "9p", "ceph")
_SHARED_BY_HAND = ("fuse.sshfs", "fuse.rclone", "fuse.glusterfs", "fuse.davfs", "davfs")
_MOUNTS = Path("/proc/self/mountinfo")
_ESCAPED = re.compile(r"\\([0-7]{3})")


def open_database(folder: Path, url: str | None = None) -> Database:
    """The database in ``folder`` (SQLite), or at ``url`` with its photos in ``folder``.

    Tables that are missing are made, older ones brought forward.  Raises :class:`DatabaseError`
    for a folder on a network share where SQLite's locks can't be trusted, for a database that a
    newer Endbell has written, and where the server does not answer.
    """
    from sqlalchemy.exc import DBAPIError

    if url is None or url.startswith("sqlite"):
        refuse_network_share(folder)
    db = connect(folder, url)
    try:
        found = schema_of(db)
        if found != HEAD:
            _bring_forward(db, found)
    except DBAPIError as error:
        db.close()
        said = " ".join(str(error.orig).split())
        raise DatabaseError(f"{_named(folder, url)} can't be opened: {said}") from error
    except DatabaseError:
        db.close()
        raise
    return db


def schema_of(db: Database) -> str | None:
    """The migration that the database stands at; None where it holds no tables of Endbell."""
    with db.engine.connect() as connection:
        if not inspect(connection).has_table("alembic_version"):
            return None
        row = connection.execute(text("SELECT version_num FROM alembic_version")).first()
        return row[0] if row else None


def refuse_network_share(folder: Path, mounts: str | None = None) -> None:
    """Raise :class:`DatabaseError` where ``folder`` lies on a network share.

    ``mounts``: the text of ``/proc/self/mountinfo``; None: as it is now (nothing is known on
    systems that have no such file).
    """
    if mounts is None:
        if not _MOUNTS.exists():
            return
        mounts = _MOUNTS.read_text(encoding="utf-8", errors="replace")
    kind = file_system_of(folder.resolve(), mounts)
    if kind in _SHARED or kind in _SHARED_BY_HAND:
        raise DatabaseError(
            f"{folder} lies on a network share ({kind}), where two machines can't be kept from "
            "writing at once; choose a folder on a disk of this machine, or PostgreSQL by its "
            "address (--database postgresql://…)"
        )


def file_system_of(folder: Path, mounts: str) -> str:
    """The kind of file system under ``folder``: that of the longest mount point above it.

    Lines as proc(5) gives them: '36 35 98:0 / /mnt rw,noatime master:1 - ext3 /dev/root rw'.
    """
    best, kind = -1, ""
    for line in mounts.splitlines():
        left, _, right = line.partition(" - ")
        fields, rest = left.split(), right.split()
        if len(fields) < 5 or not rest:
            continue
        point = Path(_ESCAPED.sub(lambda m: chr(int(m[1], 8)), fields[4]))
        depth = len(point.parts)
        # of two mounts on one point the later hides the earlier
        if depth >= best and (folder == point or point in folder.parents):
            best, kind = depth, rest[0]
    return kind


def _bring_forward(db: Database, found: str | None) -> None:
    """Run the migrations that are missing, all in one transaction."""
    # only here: an opening that has nothing to do need not wait for them
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    if found is not None and found not in known:
        raise DatabaseError(
            f"this database was written by a newer Endbell (its tables are at {found}, this one "
            f"knows up to {HEAD}); install the newer one, nothing was changed"
        )
    with writing(db) as connection:
        if not db.is_sqlite:  # two that start at once: the second waits, and finds it done
            connection.execute(text("SELECT pg_advisory_xact_lock(7203317)"))
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def _named(folder: Path, url: str | None) -> str:
    """The database as a person would say it, without its password."""
    from sqlalchemy.engine import make_url

    return (
        make_url(url).render_as_string(hide_password=True) if url else f"the database in {folder}"
    )
