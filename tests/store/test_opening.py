"""The database is brought forward when it is opened; where it can't be trusted it is refused."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text

from endbell.store import Database, DatabaseError, account_tables, open_database, state_of
from endbell.store.listing import listed
from endbell.store.opening import HEAD, file_system_of, refuse_network_share, schema_of
from endbell.store.strips import strips_behind
from endbell.store.tables import metadata

from .shops import book_in

MOUNTS = """\
22 1 8:1 / / rw,relatime - ext4 /dev/sda1 rw
30 22 0:40 / /srv/shop rw - nfs4 nas:/shop rw
31 30 8:2 / /srv/shop/local rw - ext4 /dev/sdb1 rw
32 22 0:41 / /mnt/with\\040space rw - cifs //nas/x rw
33 22 0:42 / /media/bench rw - fuse.sshfs bench@host: rw
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/var/endbell", "ext4"),
        ("/srv/shop", "nfs4"),
        ("/srv/shop/data", "nfs4"),
        ("/srv/shopping", "ext4"),
        ("/srv/shop/local/data", "ext4"),
        ("/mnt/with space/data", "cifs"),
        ("/media/bench/data", "fuse.sshfs"),
    ],
)
def test_the_longest_mount_point_above_a_folder_counts(folder: str, kind: str) -> None:
    assert file_system_of(Path(folder), MOUNTS) == kind


@pytest.mark.parametrize("folder", ["/srv/shop/data", "/mnt/with space", "/media/bench/x"])
def test_a_network_share_is_refused_with_what_would_do(folder: str) -> None:
    with pytest.raises(DatabaseError, match=r"network share .*choose a folder on a disk"):
        refuse_network_share(Path(folder), MOUNTS)


def test_a_disk_of_this_machine_will_do() -> None:
    refuse_network_share(Path("/srv/shop/local/data"), MOUNTS)


def test_the_migrations_make_the_tables_that_the_code_knows(db: Database) -> None:
    assert account_tables.metadata is metadata
    with db.engine.connect() as connection:
        context = MigrationContext.configure(
            connection,
            opts={"include_object": lambda thing, name, *_: not name.startswith("search")},
        )
        assert compare_metadata(context, metadata) == []
    assert schema_of(db) == HEAD


def test_opening_again_changes_nothing(tmp_path: Path) -> None:
    first = open_database(tmp_path)
    dossier = book_in(first, "TRV-1")
    first.close()
    again = open_database(tmp_path)
    assert state_of(again, dossier).number == "TRV-1"
    again.close()


def test_a_database_of_a_newer_endbell_is_left_alone(db: Database) -> None:
    url = None if db.is_sqlite else db.engine.url.render_as_string(hide_password=False)
    with db.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(DatabaseError, match="written by a newer Endbell"):
        open_database(db.folder, url)


def test_what_is_no_database_is_said_to_be_none(tmp_path: Path) -> None:
    (tmp_path / "endbell.sqlite").write_bytes(b"no database at all, but some text" * 40)
    with pytest.raises(DatabaseError, match="can't be opened: file is not a database"):
        open_database(tmp_path)


def test_a_server_that_is_not_there_is_said_and_its_password_is_not(tmp_path: Path) -> None:
    url = f"postgresql://shop:secret@/none?host={tmp_path}"
    with pytest.raises(DatabaseError) as refused:
        open_database(tmp_path, url)
    assert "can't be opened" in str(refused.value)
    assert "secret" not in str(refused.value)


def test_sqlite_flushes_every_commit_and_holds_foreign_keys(tmp_path: Path) -> None:
    db = open_database(tmp_path)
    with db.engine.connect() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    db.close()
    assert found == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "busy_timeout": 30_000,
    }


SCHEMAS = Path(__file__).parent / "schemas"


@pytest.mark.parametrize("released", sorted(SCHEMAS.glob("*.sql")), ids=lambda p: p.stem)
def test_every_released_database_is_brought_forward_with_what_is_in_it(
    tmp_path: Path, released: Path
) -> None:
    old = sqlite3.connect(tmp_path / "endbell.sqlite")
    old.executescript(released.read_text(encoding="utf-8"))
    old.close()
    db = open_database(tmp_path)
    with db.engine.connect() as connection:
        (dossier,) = connection.execute(text("SELECT id FROM dossiers")).scalars()
    state = state_of(db, dossier)
    assert (state.number, [m.row["text"] for m in state.standing]) == ("TRV-1", ["993-348"])
    assert schema_of(db) == HEAD
    db.close()


def test_a_strip_kept_before_lists_had_columns_of_their_own_is_carried_over(
    tmp_path: Path,
) -> None:
    old = sqlite3.connect(tmp_path / "endbell.sqlite")
    old.executescript((SCHEMAS / "0001.sql").read_text(encoding="utf-8"))
    kept = '{"sure":"settled","trouble":"","years":[[1963,0.001],[1964,0.99912]]}'
    old.execute(
        "INSERT INTO strips (dossier, version, made_by, says, sure, mode_year, strip)"
        " SELECT id, version, 'old', 'March 1964', 'settled', 1964, ? FROM dossiers",
        (kept,),
    )
    old.commit()
    old.close()
    db = open_database(tmp_path)
    (row,) = listed(db).rows
    assert (row.says, row.sure, row.trouble, row.mode_year) == (
        "March 1964",
        "settled",
        False,
        1964,
    )
    assert row.years == ((1964, 0.9991),)
    assert row.conflicts is None  # nobody has counted them yet
    assert row.strip_version == row.version
    assert strips_behind(db, "new", 5) == (row.id,)  # so that they will be
    db.close()
