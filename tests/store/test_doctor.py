"""Ten and more kinds of damage planted in a sound shop, each found, named and told how to mend."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import text

from endbell.store import Change, Database, append, events_of, open_database, state_of
from endbell.store.database import writing
from endbell.store.doctor import examine
from endbell.store.listing import Filters, listed
from endbell.store.photos import keep
from endbell.store.rebuild import mend, rebuild

from .pictures import jpeg, saved, scene
from .shops import BY, book_in, contents, mark, photo


def stocked(db: Database) -> tuple[Database, str]:
    """A sound shop: an amp with marks, a photo, tags, something undone; and another amp."""
    dossier = book_in(db, "TRV-1", model="lantern-20")
    other = book_in(db, "TRV-2")
    append(db, dossier, [mark("ot", "993-348"), mark("pt", "993-401")], by=BY)
    append(db, dossier, [photo(db, jpeg(size=(40, 30)), part="ot")], by=BY)
    append(db, dossier, [Change("tags-set", {"tags": ["window"]})], by=BY)
    wrong = append(db, dossier, [mark("ot", "999-999")], by=BY)
    append(db, dossier, [Change("undone", {"n": wrong.events[0].n})], by=BY)
    append(db, other, [mark("ot", "993-350")], by=BY)
    return db, dossier


@pytest.fixture
def shop(db: Database) -> tuple[Database, str]:
    return stocked(db)


@pytest.fixture
def in_a_file(tmp_path: Path) -> Iterator[tuple[Database, str]]:
    db = open_database(tmp_path)
    yield stocked(db)
    db.close()


def run(db: Database, *statements: str) -> None:
    with writing(db) as connection:
        for statement in statements:
            connection.execute(text(statement))


def an_original(db: Database) -> Path:
    (path,) = (p for p in (db.folder / "photos").glob("??/*"))
    return path


def _stray_original(db: Database) -> None:
    stray = an_original(db)
    (stray.parent / ("0" * 64 + ".jpg")).write_bytes(stray.read_bytes())


def _stray_thumb(db: Database) -> None:
    folder = db.folder / "thumbs" / "00"
    folder.mkdir(parents=True)
    (folder / ("0" * 64 + "-320.webp")).write_bytes(b"")


PLANTED: list[tuple[str, Callable[[Database], None], bool]] = [
    ("photo missing", lambda db: an_original(db).unlink(), False),
    (
        "photo altered",
        lambda db: an_original(db).write_bytes(an_original(db).read_bytes() + b"\0"),
        False,
    ),
    ("photo altered", lambda db: an_original(db).write_bytes(b"nothing like a picture"), False),
    (
        "event altered",
        lambda db: run(db, "UPDATE events SET data = replace(data, '993-348', '993-349')"),
        False,
    ),
    ("event altered", lambda db: run(db, "UPDATE events SET who = 'X' WHERE n = 2"), False),
    ("event altered", lambda db: run(db, "UPDATE events SET digest = 'ab' WHERE n = 2"), False),
    ("event missing", lambda db: run(db, "DELETE FROM events WHERE n = 3"), False),
    (
        "events missing",
        lambda db: run(db, "DELETE FROM events WHERE kind = 'undone'"),
        False,
    ),
    ("unreadable event", lambda db: run(db, "UPDATE events SET data = '{' WHERE n = 2"), False),
    ("unknown kind", lambda db: run(db, "UPDATE events SET kind = 'mended' WHERE n = 2"), False),
    ("row altered", lambda db: run(db, "UPDATE dossiers SET model = 'wick-6'"), True),
    ("row altered", lambda db: run(db, "UPDATE dossiers SET state = '{}'"), True),
    ("row altered", lambda db: run(db, "UPDATE marks SET text = '993-9' WHERE part = 'ot'"), True),
    ("row altered", lambda db: run(db, "DELETE FROM marks WHERE part = 'pt'"), True),
    ("row altered", lambda db: run(db, "UPDATE photos SET part = 'sp-1'"), True),
    ("row altered", lambda db: run(db, "DELETE FROM tags"), True),
    (
        "row missing",
        lambda db: run(
            db,
            *(
                f"DELETE FROM {t}"
                for t in ("strips", "search_text", "tags", "photos", "marks", "dossiers")
            ),
        ),
        True,
    ),
    ("search row missing", lambda db: run(db, "DELETE FROM search_text"), True),
    ("search row altered", lambda db: run(db, "UPDATE search_text SET body = 'x'"), True),
    (
        "strip from nowhere",
        lambda db: run(
            db,
            "INSERT INTO strips (dossier, version, made_by, says, sure, trouble, years, strip)"
            " SELECT id, version + 1, '', '', '', false, '[]', '{}' FROM dossiers",
        ),
        True,
    ),
    ("small picture left over", _stray_thumb, True),
    ("file left over", _stray_original, False),
]


def test_a_sound_shop_has_nothing_to_say(shop: tuple[Database, str]) -> None:
    assert examine(shop[0]) == ()


@pytest.mark.parametrize(
    ("what", "plant", "mendable"),
    PLANTED,
    ids=[f"{n} {row[0]}" for n, row in enumerate(PLANTED)],
)
def test_planted_damage_is_found_and_what_follows_from_events_is_mended(
    in_a_file: tuple[Database, str],
    what: str,
    plant: Callable[[Database], None],
    mendable: bool,
) -> None:
    judge(*in_a_file, what, plant, mendable)


def test_all_that_can_be_mended_is_mended_one_after_the_other(shop: tuple[Database, str]) -> None:
    for what, plant, mendable in PLANTED:
        if mendable:
            judge(*shop, what, plant, mendable)


def test_damaged_events_are_found_in_either_database(shop: tuple[Database, str]) -> None:
    db, _ = shop
    for n, change in ((2, "who = 'X'"), (3, "data = '{'"), (4, "kind = 'mended'")):
        run(db, f"UPDATE events SET {change} WHERE n = {n}")
    kinds = {finding.what for finding in examine(db)}
    assert {"event altered", "unreadable event", "unknown kind"} <= kinds


def judge(
    db: Database, dossier: str, what: str, plant: Callable[[Database], None], mendable: bool
) -> None:
    """Plant a damage, look, and mend what can be."""
    before = events_of(db, dossier)
    state = state_of(db, dossier)
    plant(db)
    findings = examine(db)
    assert what in {f.what for f in findings}
    assert all(f.where and f.found and f.mend for f in findings)
    assert all(f.mendable for f in findings) == mendable
    assert all(f.grave for f in findings) == ("left over" not in what)
    if mendable:
        assert mend(db) == 2
        assert examine(db) == ()
        assert events_of(db, dossier) == before
        assert state_of(db, dossier) == state
        assert listed(db, Filters(words="993-348")).total == 1


def test_everything_made_anew_is_as_it_was(shop: tuple[Database, str]) -> None:
    db, _ = shop
    before = dict(contents(db))
    rebuild(db)
    after = dict(contents(db))
    # the numbering of its own says nothing
    held = [sorted(row[1:] for row in rows.pop("search_text")) for rows in (before, after)]
    assert held[0] == held[1]
    assert after == before


def test_a_damaged_sqlite_file_is_said_to_be_damaged(tmp_path: Path) -> None:
    db = open_database(tmp_path)
    dossier = book_in(db, "TRV-1")
    for n in range(200):
        append(db, dossier, [mark("ot", f"993-{n:03d}", note="x" * 500)], by=BY)
    db.close()
    file = tmp_path / "endbell.sqlite"
    raw = bytearray(file.read_bytes())
    for at in range(len(raw) // 2, len(raw) // 2 + 20_000, 7):
        raw[at] ^= 0xFF
    file.write_bytes(raw)
    db = open_database(tmp_path)
    findings = examine(db)
    db.close()
    assert findings
    assert all(f.grave and not f.mendable for f in findings)


def test_an_upload_that_was_never_recorded_is_only_said(shop: tuple[Database, str]) -> None:
    db, _ = shop
    keep(db, [saved(scene(40, 30), "PNG")], "loose.png")
    assert {(f.what, f.grave) for f in examine(db)} == {
        ("file left over", False),
        ("small picture left over", False),
    }
