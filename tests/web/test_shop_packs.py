"""The shop's own packs: written from the browser, checked first, never lost, taken back."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy import delete

from endbell.store import SHOP, By, Change, append, events_of
from endbell.store.database import writing
from endbell.store.events import ChangeRefused
from endbell.store.shop_packs import changes_of, pack_file_set, pack_files
from endbell.store.tables import events
from endbell.web.desk import Desk
from endbell.web.pack_checks import check_files, nearest_of
from endbell.web.pack_rows import head_text, with_rows

from .conftest import Client
from .one_app import one_app
from .running import NAMES

HEAD = head_text("shop", "Ours", ["brackwater"])
GLOW = {
    "was": "",
    "f.0.id": "lamp-glow",
    "f.0.title": "glow of the lamp",
    "f.0.part": "faceplate",
    "f.0.cost_to_fake": "0.1",
    "f.0.softness_weeks": "8",
    "f.0.source": "seen on three amps",
    "f.0.confidence": "medium",
    "v.0.value": "amber",
    "v.0.first": "1957",
    "v.0.last": "1962-06",
    "v.0.source": "seen on three amps",
    "v.0.confidence": "medium",
    "v.1.value": "red",
    "v.1.first": "1962-07",
    "v.1.last": "",
    "v.1.models": "wick-6",
    "v.1.source": "seen on three amps",
    "v.1.confidence": "medium",
}


@pytest.fixture(scope="module")
def module_app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop-packs")) as made:
        yield made


@pytest.fixture
def app(module_app: FastAPI) -> Iterator[FastAPI]:
    """One application for all, whose shop forgets its packs after each test."""
    yield module_app
    desk: Desk = module_app.state.desk
    with writing(desk.db) as connection:
        connection.execute(delete(events).where(events.c.stream == SHOP))
    desk.db.recorded[SHOP] += 1
    assert desk.packs.now().folder == ""


@pytest.fixture
def shop(client: Client, desk: Desk) -> Client:
    """A technician of a shop with a pack of its own, on top of Brackwater's."""
    made(client, "shop", "brackwater")
    return client


def made(client: Client, pack: str, builds_on: str) -> None:
    answer = client.post("/packs/new", data={"pack": pack, "builds_on": builds_on})
    assert answer.status_code == 200, answer.text[:300]


def row_of(client: Client, table: str, key: str) -> dict[str, str]:
    """The fields of a form of rows as it is opened."""
    page = client.get(f"/packs/shop/rows/{table}", params={"key": key})
    assert page.status_code == 200, page.text[:300]
    fields = re.findall(r'<input name="(row[^"]+)" value="([^"]*)"', page.text)
    for name, inner in re.findall(
        r'<select name="(row[^"]+)".*?>(.*?)</select>', page.text, re.DOTALL
    ):
        chosen = re.search(r"<option selected>([^<]*)", inner)
        fields.append((name, chosen[1] if chosen else ""))
    return {"was": key, **dict(fields)}


# ---- what the events leave


def test_a_pack_is_what_its_events_have_made_of_it(desk: Desk) -> None:
    by = By("me")
    append(desk.db, SHOP, [pack_file_set("shop", "pack.toml", "a")], by=by)
    append(desk.db, SHOP, [pack_file_set("shop", "run.csv", "b")], by=by)
    append(desk.db, SHOP, [pack_file_set("shop", "run.csv", "c")], by=by)
    assert pack_files(desk.db) == {"shop": {"pack.toml": "a", "run.csv": "c"}}
    append(desk.db, SHOP, [Change("undone", {"n": 3})], by=by)
    assert pack_files(desk.db)["shop"]["run.csv"] == "b"
    append(desk.db, SHOP, [Change("redone", {"n": 3})], by=by)
    assert pack_files(desk.db)["shop"]["run.csv"] == "c"
    append(desk.db, SHOP, [Change("pack-file-removed", {"pack": "shop", "file": "run.csv"})], by=by)
    assert pack_files(desk.db) == {"shop": {"pack.toml": "a"}}


def test_the_history_says_what_stood_there_before(desk: Desk) -> None:
    by = By("me")
    for text in ("one", "two", "three"):
        append(desk.db, SHOP, [pack_file_set("shop", "run.csv", text)], by=by)
    append(desk.db, SHOP, [Change("undone", {"n": 2})], by=by)
    told = [
        (c.n, c.before, c.content, c.undone, c.in_force)
        for c in changes_of(events_of(desk.db, SHOP))
    ]
    assert told == [
        (1, None, "one", False, False),
        (2, "one", "two", True, False),
        (3, "one", "three", False, True),
    ]


@pytest.mark.parametrize(
    ("pack", "file"),
    [
        ("..", "pack.toml"),
        ("shop", "../x.csv"),
        ("shop", "run.py"),
        ("a/b", "run.csv"),
        ("", "x.csv"),
        ("shop", ".toml"),
    ],
)
def test_a_name_that_leads_out_of_the_folder_is_refused(pack: str, file: str) -> None:
    with pytest.raises(ChangeRefused):
        pack_file_set(pack, file, "")


# ---- checks


def test_a_problem_says_file_line_found_accepted_and_the_nearest() -> None:
    rows = "feature,value,first,last,source,confidence\nknob-shap,flat,1966,1968,me,high\n"
    checked = check_files("shop", {"pack.toml": HEAD, "feature_value.csv": rows})
    (trouble,) = checked.troubles
    assert (trouble.file, trouble.line, trouble.found) == (
        "feature_value.csv",
        2,
        "feature 'knob-shap'",
    )
    assert trouble.nearest == "knob-shape"
    assert "knob-colour" in trouble.accepted
    assert checked.readable


def test_a_file_nobody_can_read_makes_the_pack_unreadable() -> None:
    checked = check_files("shop", {"pack.toml": HEAD + "x = [1,\n"})
    assert not checked.readable
    assert checked.troubles[0].line == len(HEAD.splitlines()) + 1
    assert not check_files("shop", {"pack.toml": HEAD.replace("brackwater", "brackwatr")}).readable


def test_nothing_is_nearest_where_nothing_is_near() -> None:
    assert nearest_of("class 'zzz'", "one of choke, potentiometer") == ""
    assert nearest_of("no 'source'", "where this is from, as a text") == ""


# ---- rows into a file


def test_rows_are_added_and_all_else_stays_as_it_was() -> None:
    before = "number,name,source,confidence\n991,Corran,me,high\n# odd,but mine,x,y\n"
    after = with_rows(
        {"source_number.csv": before},
        "source_number",
        [
            {"number": "998", "name": "Halden, third", "source": "me", "confidence": "high"},
        ],
    )
    assert after["source_number.csv"] == before + '998,"Halden, third",me,high\n'


def test_a_row_is_taken_out_with_all_its_lines() -> None:
    before = 'number,name,source,confidence\r\n991,"Cor\r\nran",me,high\r\n992,Nine,me,high\r\n'
    after = with_rows({"source_number.csv": before}, "source_number", [], gone=[2])
    assert after["source_number.csv"] == "number,name,source,confidence\r\n992,Nine,me,high\r\n"


def test_a_column_that_is_missing_is_added_for_all() -> None:
    before = "number,name,source,confidence\n991,Corran,me,high\n"
    row = {"number": "998", "name": "X", "source": "me", "confidence": "low", "note": "a guess"}
    after = with_rows({"source_number.csv": before}, "source_number", [row])
    assert after["source_number.csv"].splitlines() == [
        "number,name,source,confidence,note",
        "991,Corran,me,high,",
        "998,X,me,low,a guess",
    ]


# ---- the pages


def test_a_new_pack_builds_on_what_is_shipped(shop: Client, desk: Desk) -> None:
    assert pack_files(desk.db) == {
        "shop": {"pack.toml": head_text("shop", "The shop’s own reference", ["brackwater"])}
    }
    assert "the shop’s own" in shop.get("/packs/shop").text
    assert desk.packs.reference(("shop",)).models[0].id == "lantern-20"


@pytest.mark.parametrize("taken", ["brackwater", "standards", "new", "sources", "shop"])
def test_a_pack_takes_no_name_that_is_taken(shop: Client, taken: str) -> None:
    answer = shop.post("/packs/new", data={"pack": taken, "builds_on": "brackwater"})
    assert answer.status_code == 422


@pytest.mark.parametrize("name", ["../x", "a b", "", "-x", "a" * 70])
def test_a_pack_is_named_like_a_folder(client: Client, desk: Desk, name: str) -> None:
    assert client.post("/packs/new", data={"pack": name}).status_code in (404, 422)
    assert pack_files(desk.db) == {}


def test_a_number_is_named_at_the_bench_and_makes_the_pack(client: Client, desk: Desk) -> None:
    answer = client.post("/packs/sources", data={"number": "998", "name": "Halden, third works"})
    assert answer.status_code == 200
    assert "Halden, third works" in answer.text
    assert desk.packs.reference(("shop",)).tables.sources["998"] == "Halden, third works"


def test_a_number_keeps_the_name_it_has_until_that_is_changed(shop: Client, desk: Desk) -> None:
    shop.post("/packs/sources", data={"number": "998", "name": "Halden"})
    again = shop.post("/packs/sources", data={"number": "998", "name": "Other"})
    assert again.status_code == 409
    assert "already named" in again.text
    form = row_of(shop, "source_number", "998")
    done = shop.post("/packs/shop/rows/source_number", data={**form, "row.0.name": "Other"})
    assert done.status_code == 200
    assert desk.packs.reference(("shop",)).tables.sources["998"] == "Other"


@pytest.mark.parametrize(("number", "name"), [("9", "X"), ("99a", "X"), ("998", "  ")])
def test_what_is_no_number_or_no_name_is_refused(
    shop: Client, desk: Desk, number: str, name: str
) -> None:
    assert shop.post("/packs/sources", data={"number": number, "name": name}).status_code == 422
    assert "source_number.csv" not in pack_files(desk.db)["shop"]


def test_a_feature_with_its_values_is_weighed_at_once(shop: Client, desk: Desk) -> None:
    answer = shop.post("/packs/shop/feature", data=GLOW)
    assert answer.status_code == 200, answer.text[-900:]
    assert answer.url.path == "/packs/shop/features/lamp-glow"
    assert "July 1962" in answer.text
    feature = desk.packs.reference(("shop",)).features["lamp-glow"]
    assert [(v.value, v.models) for v in feature.values][1] == ("red", ("wick-6",))
    assert feature.source == "seen on three amps"


def test_while_a_feature_is_typed_its_windows_are_drawn_and_its_problems_named(
    shop: Client, desk: Desk
) -> None:
    form = {**GLOW, "f.0.part": "faceplat", "v.0.last": "1950"}
    answer = shop.post("/packs/shop/feature/check", data=form)
    assert "<html" not in answer.text
    assert "from July 1962" in answer.text
    assert "Nearest: faceplate" in answer.text
    assert "a last day after the first" in answer.text
    kept = shop.post("/packs/shop/feature", data=form)
    assert kept.status_code == 422
    assert 'value="faceplat"' in kept.text
    assert list(pack_files(desk.db)["shop"]) == ["pack.toml"]


def test_a_shipped_row_is_changed_beside_it_and_never_in_it(shop: Client, desk: Desk) -> None:
    page = shop.get("/packs/shop/feature", params={"id": "knob-shape"}).text
    fields = dict(re.findall(r'<input name="([fv]\.[^"]+)" value="([^"]*)"', page))
    level = re.search(r'<select name="f.0.level".*?<option selected>([^<]*)', page, re.DOTALL)
    assert level is not None
    last = next(name for name, value in fields.items() if value == "1960-05")
    form = {**fields, "f.0.level": level[1], "was": "knob-shape", last: "1961-02"}
    assert shop.post("/packs/shop/feature", data=form).status_code == 200
    files = pack_files(desk.db)["shop"]
    assert files["feature_value.csv"].splitlines()[1:] == [
        "knob-shape,pointer,1953,1961-02,1,invented world,invented world"
    ]
    assert "feature.csv" not in files
    values = {
        v.value: str(v.window.last)
        for v in desk.packs.reference(("shop",)).features["knob-shape"].values
    }
    assert values["pointer"] == "1961-02-28"
    assert len(values) == 3
    shipped = desk.packs.reference(("brackwater",)).features["knob-shape"].values[0]
    assert str(shipped.window.last) == "1960-05-31"


def test_all_rows_of_a_key_go_together(shop: Client, desk: Desk) -> None:
    form = row_of(shop, "run", "wick-6")
    assert form["row.0.volume"] == "2600"
    shop.post(
        "/packs/shop/rows/run", data={**form, "row.0.volume": "2500", "row.0.note": "counted"}
    )
    runs = next(m for m in desk.packs.reference(("shop",)).models if m.id == "wick-6").runs
    assert [run.weight for run in runs] == [2500, 2900, 500]
    table = shop.get("/packs/shop/tables/run").text
    assert "in place of brackwater" in table
    # left blank again, the row is gone and the one below is in force
    form = row_of(shop, "run", "wick-6")
    blank = {name: "" if name.startswith("row.") else value for name, value in form.items()}
    shop.post("/packs/shop/rows/run", data=blank)
    runs = next(m for m in desk.packs.reference(("shop",)).models if m.id == "wick-6").runs
    assert [run.weight for run in runs] == [2600, 2900, 500]


def test_an_assumption_of_the_trade_is_overridden(shop: Client, desk: Desk) -> None:
    form = row_of(shop, "assumption", "replaced.loudspeaker.probability")
    shop.post(
        "/packs/shop/rows/assumption",
        data={**form, "row.0.value": "0.41", "row.0.source": "40 amps here"},
    )
    there = desk.packs.reference(("shop",)).assumptions["replaced.loudspeaker.probability"]
    assert (there.value, there.source) == (0.41, "40 amps here")


def test_nothing_is_recorded_where_nothing_was_changed(shop: Client, desk: Desk) -> None:
    before = len(events_of(desk.db, SHOP))
    shop.post("/packs/shop/rows/run", data=row_of(shop, "run", "wick-6"))
    assert len(events_of(desk.db, SHOP)) == before


# ---- as text


def save(client: Client, file: str, text: str, **more: Any) -> Any:
    return client.post(f"/packs/shop/files/{file}", data={"text": text, **more})


def test_a_row_at_fault_is_left_out_and_the_good_ones_are_in_force(
    shop: Client, desk: Desk
) -> None:
    rows = "number,name,source,confidence\n998,Halden,me,high\n99x,Nobody,me,high\n"
    check = shop.post("/packs/shop/files/source_number.csv/check", data={"text": rows})
    assert "line 3" in check.text
    assert "two to four digits" in check.text
    assert save(shop, "source_number.csv", rows.replace("\n", "\r\n")).status_code == 200
    assert pack_files(desk.db)["shop"]["source_number.csv"] == rows
    assert desk.packs.reference(("shop",)).tables.sources["998"] == "Halden"
    assert "All other rows are in force" in shop.get("/packs/shop").text


def test_a_text_that_would_stop_the_whole_pack_is_kept_in_the_field_alone(
    shop: Client, desk: Desk
) -> None:
    answer = save(shop, "pack.toml", HEAD + "[[run\n")
    assert answer.status_code == 422
    assert "[[run" in answer.text
    assert "[[run" not in pack_files(desk.db)["shop"]["pack.toml"]


def test_who_was_slower_sees_what_the_other_has_done(
    shop: Client, signed_in: Any, desk: Desk
) -> None:
    began = re.search(r'name="began" value="(\w+)"', shop.get("/packs/shop/files/pack.toml").text)
    assert began is not None
    other = signed_in("owner")
    assert save(other, "pack.toml", HEAD + "# theirs\n").status_code == 200
    mine = save(shop, "pack.toml", HEAD + "# mine\n", began=began[1])
    assert mine.status_code == 409
    assert "# theirs" in mine.text
    assert "# mine" in mine.text
    assert "# theirs" in pack_files(desk.db)["shop"]["pack.toml"]


def test_the_same_form_sent_twice_is_recorded_once(shop: Client, desk: Desk) -> None:
    began = re.search(r'name="began" value="(\w+)"', shop.get("/packs/shop/files/pack.toml").text)
    assert began is not None
    for _ in range(2):
        answer = save(
            shop, "pack.toml", HEAD + "# once\n", began=began[1], key="01HZZZZZZZZZZZZZZZZZZZZZZZ"
        )
        assert answer.status_code == 200
    assert [e.kind for e in events_of(desk.db, SHOP)] == ["pack-file-set"] * 2


def test_a_change_is_compared_taken_back_and_made_again(shop: Client, desk: Desk) -> None:
    for name in ("Halden", "Halden Coil"):
        save(shop, "source_number.csv", f"number,name,source,confidence\n998,{name},me,high\n")
    page = shop.get("/packs/shop/history").text
    assert "998,Halden Coil,me,high" in page
    assert NAMES["technician"] in page
    n = events_of(desk.db, SHOP)[-1].n
    shop.post("/packs/shop/undo", data={"n": n})
    assert desk.packs.reference(("shop",)).tables.sources["998"] == "Halden"
    shop.post("/packs/shop/redo", data={"n": n})
    assert desk.packs.reference(("shop",)).tables.sources["998"] == "Halden Coil"
    shop.post("/packs/shop/bring-back", data={"n": n - 1})
    assert desk.packs.reference(("shop",)).tables.sources["998"] == "Halden"
    assert len(changes_of(events_of(desk.db, SHOP))) == 4


def test_a_file_taken_out_can_be_brought_back(shop: Client, desk: Desk) -> None:
    save(shop, "source_number.csv", "number,name,source,confidence\n998,Halden,me,high\n")
    shop.post("/packs/shop/files/source_number.csv/remove")
    assert "998" not in desk.packs.reference(("shop",)).tables.sources
    n = events_of(desk.db, SHOP)[-1].n
    shop.post("/packs/shop/undo", data={"n": n})
    assert "998" in desk.packs.reference(("shop",)).tables.sources


def test_the_head_is_not_taken_from_under_the_other_files(shop: Client, desk: Desk) -> None:
    save(shop, "source_number.csv", "number,name,source,confidence\n998,Halden,me,high\n")
    assert shop.post("/packs/shop/files/pack.toml/remove").status_code == 422
    first = events_of(desk.db, SHOP)[0].n
    assert shop.post("/packs/shop/undo", data={"n": first}).status_code == 422
    assert "pack.toml" in pack_files(desk.db)["shop"]


# ---- rights


def test_a_reader_reads_and_changes_nothing(shop: Client, reader: Client, desk: Desk) -> None:
    assert reader.get("/packs/shop/files/pack.toml").status_code == 200
    assert "readonly" in reader.get("/packs/shop/files/pack.toml").text
    before = len(events_of(desk.db, SHOP))
    for address, data in (
        ("/packs/new", {"pack": "mine"}),
        ("/packs/sources", {"number": "998", "name": "X"}),
        ("/packs/shop/files/pack.toml", {"text": HEAD}),
        ("/packs/shop/files/pack.toml/check", {"text": HEAD}),
        ("/packs/shop/feature", GLOW),
        ("/packs/shop/rows/run", {"row.0.source": "x"}),
        ("/packs/shop/undo", {"n": "1"}),
    ):
        assert reader.post(address, data=data).status_code == 403, address
    assert len(events_of(desk.db, SHOP)) == before


def test_what_is_typed_is_shown_as_typed(shop: Client) -> None:
    nasty = "<script>alert(1)</script>\"'&"
    shop.post("/packs/sources", data={"number": "998", "name": nasty})
    for address in (
        "/packs",
        "/packs/shop",
        "/packs/sources/998",
        "/packs/shop/files/source_number.csv",
        "/packs/shop/history",
    ):
        page = shop.get(address).text
        assert "<script>alert" not in page
        assert "&lt;script&gt;" in page
