"""A backup taken at any moment is whole, is checked, and restores to an equal database."""

from __future__ import annotations

import threading
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from endbell.store import Database, append, events_of, open_database
from endbell.store.backup import BackupRefused, backup, restore, verify
from endbell.store.doctor import examine

from .pictures import jpeg
from .shops import BY, book_in, contents, files_of, mark, photo, stock


def without_numbering(db: Database) -> dict[str, object]:
    rows = dict(contents(db))
    rows["search_text"] = sorted(row[1:] for row in rows["search_text"])
    return rows


def test_what_is_restored_is_equal(db: Database, tmp_path: Path) -> None:
    stock(db)
    manifest = backup(db, tmp_path / "b.zip")
    other = open_database(tmp_path / "other")
    assert restore(other, tmp_path / "b.zip") == manifest
    assert without_numbering(other) == without_numbering(db)
    assert files_of(other) == files_of(db)
    assert examine(other) == ()
    again = append(other, book_in(other, "TRV-9"), [mark("ot", "993-348")], by=BY)
    assert again.events[0].seq > manifest["counts"]["events"]
    other.close()


def test_a_file_is_restored_into_the_other_database(db: Database, tmp_path: Path) -> None:
    here = open_database(tmp_path / "here")
    stock(here)
    backup(here, tmp_path / "b.zip")
    restore(db, tmp_path / "b.zip")
    assert without_numbering(db) == without_numbering(here)
    assert examine(db) == ()
    book_in(db, "TRV-9")  # what comes next is numbered after what came back
    here.close()


def test_a_backup_under_load_is_one_moment(db: Database, tmp_path: Path) -> None:
    dossiers = [book_in(db, f"TRV-{n}") for n in range(3)]
    stop = threading.Event()
    made: list[int] = []

    def work(dossier: str) -> None:
        n = 0
        while not stop.is_set():
            change = photo(db, jpeg(size=(8 + n % 40, 30))) if n % 20 == 5 else mark("ot", f"{n}")
            made.append(append(db, dossier, [change], by=BY).events[0].seq)
            n += 1

    threads = [threading.Thread(target=work, args=(dossier,)) for dossier in dossiers]
    for thread in threads:
        thread.start()
    while len(made) < 20:
        stop.wait(0.01)
    manifest = backup(db, tmp_path / "b.zip")
    stop.set()
    for thread in threads:
        thread.join()
    other = open_database(tmp_path / "other")
    restore(other, tmp_path / "b.zip")
    assert examine(other) == ()
    held = {dossier: events_of(other, dossier) for dossier in dossiers}
    assert sum(map(len, held.values())) == manifest["counts"]["events"] < len(made) + 3
    for dossier, events in held.items():  # of each the beginning, nothing left out
        assert events == events_of(db, dossier)[: len(events)]
    other.close()


def test_nothing_is_written_over(db: Database, tmp_path: Path) -> None:
    book_in(db, "TRV-1")
    (tmp_path / "b.zip").write_text("mine")
    with pytest.raises(BackupRefused, match=r"b.zip is there already"):
        backup(db, tmp_path / "b.zip")
    assert (tmp_path / "b.zip").read_text() == "mine"
    backup(db, tmp_path / "c.zip")
    with pytest.raises(BackupRefused, match="the database is not empty"):
        restore(db, tmp_path / "c.zip")


def test_a_shop_with_a_damaged_photo_gives_no_backup_that_looks_whole(
    db: Database, tmp_path: Path
) -> None:
    append(db, book_in(db, "TRV-1"), [photo(db, jpeg(size=(40, 30)))], by=BY)
    (path,) = (db.folder / "photos").glob("??/*")
    path.write_bytes(path.read_bytes() + b"\0")
    with pytest.raises(BackupRefused, match="endbell doctor says more"):
        backup(db, tmp_path / "b.zip")
    assert list(tmp_path.glob("b.zip*")) == []


def _rewritten(path: Path, change: Callable[[str, bytes], bytes | None]) -> None:
    """The backup written anew with some members changed or left out."""
    with zipfile.ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in members.items():
            kept = change(name, data)
            if kept is not None:
                archive.writestr(name, kept)


@pytest.mark.parametrize(
    ("damage", "says"),
    [
        (lambda p: p.write_bytes(p.read_bytes()[:-400]), "no whole backup"),
        (lambda p: p.write_bytes(b""), "no whole backup"),
        (
            lambda p: _rewritten(p, lambda n, d: d.replace(b"993", b"994")),
            "is not what was written",
        ),
        (
            lambda p: _rewritten(p, lambda n, d: None if n.startswith("photos") else d),
            "its members are not those it lists",
        ),
        (
            lambda p: _rewritten(p, lambda n, d: d.replace(b"endbell-backup/1", b"other/1")),
            "is no backup of Endbell's",
        ),
    ],
)
def test_a_damaged_backup_is_refused_and_nothing_is_half_done(
    tmp_path: Path, damage: Callable[[Path], object], says: str
) -> None:
    db = open_database(tmp_path / "here")
    stock(db)
    backup(db, tmp_path / "b.zip")
    db.close()
    damage(tmp_path / "b.zip")
    with pytest.raises(BackupRefused, match=says):
        verify(tmp_path / "b.zip")
    other = open_database(tmp_path / "other")
    with pytest.raises(BackupRefused, match=says):
        restore(other, tmp_path / "b.zip")
    assert not any(contents(other).values())
    other.close()
