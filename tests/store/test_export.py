"""Everything out and in again is the same database; what would make it another one is refused."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from endbell.store import Change, Database, append, events_of, state_of
from endbell.store.account_tables import account_log, accounts, devices
from endbell.store.accounts import add_account
from endbell.store.exporting import ExportRefused, dossier_called, export, export_to
from endbell.store.importing import ImportRefused, check_import, import_export
from endbell.store.photos_files import incoming, original_of

from .pictures import jpeg
from .shops import BY, START, book_in, contents, empty, files_of, mark, photo, rows_of, stock


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Database]:
    db = empty(tmp_path / "shop")
    stock(db)
    yield db
    db.close()


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Database]:
    db = empty(tmp_path / "other")
    yield db
    db.close()


def written(db: Database, name: str = "all.zip", ids: list[str] | None = None) -> Path:
    path = db.folder / name
    export_to(db, path, ids, now=START)
    return path


def test_everything_out_and_in_again_is_the_same_database(shop: Database, other: Database) -> None:
    plan = import_export(other, written(shop))
    assert contents(other) == contents(shop)
    assert files_of(other) == files_of(shop)
    assert rows_of(other, account_log) == rows_of(shop, account_log)
    assert plan.fresh and plan.added == ("TRV-1", "TRV-2", "TRV-3")
    assert (plan.photos, plan.accounts) == (7, 2)


def test_a_second_export_of_what_came_in_has_the_same_bytes(
    shop: Database, other: Database
) -> None:
    first = written(shop)
    import_export(other, first)
    assert written(other).read_bytes() == first.read_bytes()


def test_work_goes_on_in_both_after_an_import(shop: Database, other: Database) -> None:
    import_export(other, written(shop))
    stream = dossier_called(other, "TRV-1")
    assert stream is not None
    more = append(other, stream, [mark("ot", "993-1")], by=BY)
    assert more.events[0].seq == max(e.seq for e in events_of(other, "shop")) + 1
    assert book_in(other, "TRV-4")


def test_an_export_holds_no_secret(shop: Database) -> None:
    with zipfile.ZipFile(written(shop)) as archive:
        names = archive.namelist()
        text = b"".join(archive.read(name) for name in names if name.endswith(("json", "jsonl")))
    assert b"hash-of-ana" not in text and b"5" * 64 not in text
    manifest = json.loads(zipfile.ZipFile(written(shop, "b.zip")).read("manifest.json"))
    assert "passwords and their hashes" in manifest["left_out"]
    assert "share links" in manifest["left_out"]


def test_nobody_gets_in_by_an_import(shop: Database, other: Database) -> None:
    import_export(other, written(shop))
    assert {person["password"] for person in people_of(other)} == {""}
    secrets = {row[1] for row in rows_of(other, devices)}
    assert "5" * 64 not in secrets


def people_of(db: Database) -> list[dict[str, Any]]:
    return [dict(zip(accounts.columns.keys(), row, strict=True)) for row in rows_of(db, accounts)]


def test_the_manifest_counts_and_hashes_every_member(shop: Database) -> None:
    import hashlib

    with zipfile.ZipFile(written(shop)) as archive:
        manifest = json.loads(archive.read("manifest.json"))
        assert manifest["format"] == "endbell-export/1"
        assert {m["name"] for m in manifest["members"]} == set(archive.namelist()) - {
            "manifest.json"
        }
        for member in manifest["members"]:
            data = archive.read(member["name"])
            assert (len(data), hashlib.sha256(data).hexdigest()) == (
                member["bytes"],
                member["sha256"],
            )
        counts = manifest["counts"]
        assert counts["events"] == archive.read("events.jsonl").count(b"\n")
    assert (counts["dossiers"], counts["photos"], counts["accounts"]) == (3, 7, 2)


def test_a_photo_taken_back_is_exported_too_since_it_may_be_brought_back(
    shop: Database, other: Database
) -> None:
    stream = dossier_called(shop, "TRV-1")
    assert stream is not None
    assert len(state_of(shop, stream).photos) == 1
    import_export(other, written(shop))
    append(other, stream, [Change("redone", {"n": 7})], by=BY)
    for row in state_of(other, stream).photos:
        assert original_of(other, row.sha256).path.is_file()


def test_progress_is_told_to_the_end(shop: Database, other: Database) -> None:
    heard: list[tuple[int, int]] = []
    path = shop.folder / "all.zip"
    export_to(shop, path, step=lambda done, of: heard.append((done, of)))
    assert heard[-1] == (8, 8)
    told: list[tuple[str, int, int]] = []
    import_export(other, path, step=lambda *said: told.append(said))
    assert told[-1][0] == "dossiers" and told[-1][1] == told[-1][2]


def test_what_is_recorded_meanwhile_does_not_tear_the_export(
    shop: Database, other: Database
) -> None:
    stream = dossier_called(shop, "TRV-1")
    assert stream is not None
    before = contents(shop)
    blocks = export(shop, now=START)
    data = next(blocks)
    append(shop, stream, [mark("ot", "993-999"), photo(shop, jpeg(1, size=(99, 99)))], by=BY)
    path = shop.folder / "meanwhile.zip"
    path.write_bytes(data + b"".join(blocks))
    import_export(other, path)
    assert contents(other) == before


def test_a_damaged_photo_is_named_and_the_rest_exported(shop: Database, other: Database) -> None:
    name = next(iter(files_of(shop)))
    (shop.folder / "photos" / name).write_bytes(b"\xff\xd8\xff damaged")
    path = written(shop)
    assert check_import(other, path).missing == (name[3:67],)
    plan = import_export(other, path)
    assert plan.missing == (name[3:67],)
    assert contents(other) == contents(shop)
    assert len(files_of(other)) == 6


# ---- selected dossiers


def test_chosen_dossiers_come_with_their_photos_and_the_names_they_need(
    shop: Database, other: Database
) -> None:
    stream = dossier_called(shop, "TRV-2")
    assert stream is not None
    plan = import_export(other, written(shop, ids=[stream]))
    assert plan.added == ("TRV-2",)
    assert state_of(other, stream) == state_of(shop, stream)
    names = [person["name"] for person in people_of(other)]
    assert names == ["RT"], "who recorded it, and nobody else"
    assert len(files_of(other)) == 3


def test_a_dossier_that_is_not_there_can_not_be_exported(shop: Database) -> None:
    for ids in (["01JD8Y3K7Q2M5N8P4R6S9T1V3W"], []):
        with pytest.raises(ExportRefused):
            written(shop, ids=ids)
    assert not (shop.folder / "all.zip").exists()


# ---- into a database that has things


def test_sending_an_export_twice_imports_it_once(shop: Database, other: Database) -> None:
    path = written(shop)
    import_export(other, path)
    before = contents(other)
    again = import_export(other, path)
    assert (again.added, again.continued, again.events) == ((), (), 0)
    assert again.same == ("TRV-1", "TRV-2", "TRV-3")
    assert contents(other) == before


def test_dossiers_that_are_not_there_are_added_to_those_that_are(
    shop: Database, other: Database
) -> None:
    own = book_in(other, "OWN-1")
    plan = import_export(other, written(shop))
    assert not plan.fresh and plan.added == ("TRV-1", "TRV-2", "TRV-3")
    assert state_of(other, own).number == "OWN-1"
    assert len(contents(other)["events"]) == len(contents(shop)["events"]) + 1
    came = {(person["role"], person["closed"]) for person in people_of(other)}
    assert came == {("reader", True)}, "names, not a way in"


def test_a_dossier_that_went_on_there_is_continued_here(shop: Database, other: Database) -> None:
    import_export(other, written(shop))
    stream = dossier_called(shop, "TRV-3")
    assert stream is not None
    append(shop, stream, [mark("sp-1", "995-4???"), photo(shop, jpeg(1, size=(9, 9)))], by=BY)
    plan = import_export(other, written(shop, "later.zip"))
    assert (plan.continued, plan.same) == (("TRV-3",), ("TRV-1", "TRV-2"))
    assert state_of(other, stream) == state_of(shop, stream)


def test_a_dossier_that_went_on_here_stays_as_it_is(shop: Database, other: Database) -> None:
    path = written(shop)
    import_export(other, path)
    stream = dossier_called(other, "TRV-3")
    assert stream is not None
    append(other, stream, [mark("sp-1", "995-4???")], by=BY)
    before = contents(other)
    assert import_export(other, path).same == ("TRV-1", "TRV-2", "TRV-3")
    assert contents(other) == before


def test_a_dossier_that_went_on_differently_refuses_the_whole(
    shop: Database, other: Database
) -> None:
    import_export(other, written(shop))
    stream = dossier_called(shop, "TRV-3")
    assert stream is not None
    append(shop, stream, [mark("sp-1", "995-41??")], by=BY)
    new = book_in(shop, "TRV-4")
    append(other, stream, [mark("sp-1", "995-42??")], by=BY)
    before, path = contents(other), written(shop, "later.zip")
    assert check_import(other, path).apart == ("TRV-3",)
    with pytest.raises(ImportRefused, match=r"TRV-3 went on differently.*accepted"):
        import_export(other, path)
    assert contents(other) == before
    plan = import_export(other, path, leave_apart=True)
    assert (plan.added, plan.apart) == (("TRV-4",), ("TRV-3",))
    assert state_of(other, new).number == "TRV-4"
    assert len(state_of(other, stream).marks) == 3


def test_a_number_that_another_amp_has_here_is_refused(shop: Database, other: Database) -> None:
    book_in(other, "TRV-2")
    before = contents(other)
    with pytest.raises(ImportRefused, match=r"'TRV-2' is the number of another dossier here"):
        import_export(other, written(shop))
    assert contents(other) == before
    assert files_of(other) == {}


def test_the_shops_own_views_stay_where_they_differ(shop: Database, other: Database) -> None:
    view = {"view": "V", "name": "mine", "query": {}}
    append(other, "shop", [Change("view-saved", view)], by=BY)
    plan = import_export(other, written(shop))
    assert plan.shop_left
    assert [e.data["name"] for e in events_of(other, "shop")] == ["mine"]


def test_a_name_that_somebody_has_already_is_told_apart(shop: Database, other: Database) -> None:
    add_account(other, "rt", "owner", password="hash")
    import_export(other, written(shop))
    people = {person["name"]: person for person in people_of(other)}
    assert set(people) == {"rt", "Ana", "RT (2)"}
    assert people["rt"]["password"] == "hash"


def test_an_import_broken_off_leaves_nothing(
    shop: Database, other: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written(shop)
    calls = 0

    def trouble(*given: object, **named: object) -> None:
        nonlocal calls
        calls += 1
        if calls == 2:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr("endbell.store.importing.project", trouble)
    with pytest.raises(OSError, match="No space"):
        import_export(other, path)
    assert not any(contents(other).values())
    assert files_of(other) == {}
    monkeypatch.undo()
    monkeypatch.setattr("endbell.store.importing.add_people", trouble)
    calls = 1
    with pytest.raises(OSError, match="No space"):
        import_export(other, path)
    assert not any(contents(other).values())
    assert list(incoming(other).iterdir()) == []


def test_an_export_is_made_of_blocks_not_of_one(shop: Database) -> None:
    blocks = [block for block in export(shop) if block]
    assert len(blocks) > 7
    assert zipfile.is_zipfile(io.BytesIO(b"".join(blocks)))
