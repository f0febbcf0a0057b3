"""Out and in over the web: exports, tables of marks shown before they are taken in, tags."""

from __future__ import annotations

import io
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from store.pictures import jpeg

from endbell.store import Change, append, events_of, new_id, state_of
from endbell.store.exporting import dossier_called, export_to
from endbell.web.desk import Desk

from .conftest import Client
from .one_app import a_dossier, one_app

HEAD = "Ticket,Part,Code,Claimed built,packs\n"


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop")) as made:
        yield made


@pytest.fixture
def number() -> Callable[[int], str]:
    """Numbers that no other test uses."""
    own = new_id()[-8:]
    return lambda n: f"T{own}-{n}"


def hand_in(owner: Client, data: bytes | str, name: str = "pots.csv") -> str:
    """The address of the page of the import."""
    body = data.encode() if isinstance(data, str) else data
    answer = owner.post("/import", files={"file": (name, body)}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def waited(owner: Client, address: str) -> str:
    """The page when its work is done."""
    for _ in range(400):
        text = owner.get(address).text
        if 'id="progress"' not in text:
            return text
        time.sleep(0.05)
    raise AssertionError("the work does not end")


def table(number: Callable[[int], str], rows: int = 3) -> str:
    return HEAD + "".join(
        f"{number(n)},ot,993-34{n},1964,brackwater\n{number(n)},pot-1,992-34{n},,\n"
        for n in range(1, rows + 1)
    )


# ---- export


def test_everything_comes_as_one_zip_for_owners_only(
    owner: Client, client: Client, desk: Desk
) -> None:
    a_dossier(desk)
    answer = owner.get("/export/all.zip")
    assert answer.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        assert "events.jsonl" in archive.namelist()
    for address in ("/export", "/export/all.zip", "/import"):
        assert client.get(address).status_code == 403
    assert client.post("/export", data={"id": ["x"]}).status_code == 403


def test_dossiers_picked_on_the_shelf_are_exported_alone(owner: Client, desk: Desk) -> None:
    one, other = a_dossier(desk), a_dossier(desk)
    answer = owner.post("/export", data={"id": [one]})
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        text = archive.read("events.jsonl").decode()
    assert one in text and other not in text
    assert owner.post("/export").status_code == 422


def test_the_page_says_what_is_left_out(owner: Client) -> None:
    text = owner.get("/export").text
    assert "passwords and their hashes" in text and "exactly as they were taken" in text


def test_an_export_is_looked_at_and_then_taken_in(
    owner: Client, desk: Desk, tmp_path: Path
) -> None:
    with one_app(tmp_path / "other") as there:
        stream = a_dossier(there.state.desk)
        sender = Client(there)
        export_to(there.state.desk.db, tmp_path / "all.zip")
        del sender
    address = hand_in(owner, (tmp_path / "all.zip").read_bytes(), "all.zip")
    text = waited(owner, address)
    assert "Dossiers added" in text and "Import it" in text
    assert dossier_called(desk.db, stream) is None, "looked at only"
    owner.post(f"{address}/begin")
    assert "Everything in it is here now" in waited(owner, address)
    assert len(state_of(desk.db, stream).marks) == 2


def test_a_hostile_zip_is_refused_on_the_page(owner: Client) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("../../evil.sh", "x")
    text = waited(owner, hand_in(owner, out.getvalue(), "all.zip"))
    assert "evil.sh" in text and "Nothing of it was imported" in text


# ---- tables


def test_a_table_is_shown_before_it_is_taken_in(
    owner: Client, desk: Desk, number: Callable[[int], str]
) -> None:
    text = owner.get(hand_in(owner, table(number))).text
    assert "3 dossiers with 6 marks" in text
    assert "its heading" in text and "993-341" in text
    assert dossier_called(desk.db, number(1)) is None


def test_a_table_becomes_dossiers_with_their_events_as_typed(
    owner: Client, desk: Desk, number: Callable[[int], str]
) -> None:
    address = hand_in(owner, table(number))
    owner.post(f"{address}/begin")
    assert "3 dossiers with 6 marks imported" in waited(owner, address)
    stream = dossier_called(desk.db, number(2))
    assert stream is not None
    state = state_of(desk.db, stream)
    assert [m.row["text"] for m in state.standing] == ["993-342", "992-342"]
    assert state.standing[0].row["kind"] == "source-date-code"
    assert (state.claim["built"], state.packs) == ("1964", ("brackwater",))
    assert "pots.csv, line 4" in state.intake["imported"]
    assert [e.kind for e in events_of(desk.db, stream)] == ["opened", "mark-set", "mark-set"]


def test_sending_a_table_twice_imports_it_once(
    owner: Client, desk: Desk, number: Callable[[int], str]
) -> None:
    addresses = [hand_in(owner, table(number)) for _ in range(2)]
    for address in addresses:
        owner.post(f"{address}/begin")
        owner.post(f"{address}/begin")
        text = waited(owner, address)
    assert "0 dossiers" in text and "3 had been imported before" in text
    stream = dossier_called(desk.db, number(1))
    assert stream is not None
    assert state_of(desk.db, stream).version == 3


def test_what_the_columns_are_can_be_said_otherwise(
    owner: Client, desk: Desk, number: Callable[[int], str]
) -> None:
    text = f"A,B,C\n{number(1)},ot,see lid\n{number(1)},pot-1,see lid\n"
    address = hand_in(owner, text)
    assert "No column is" in owner.get(address).text
    told = {"column-1": "dossier", "column-2": "part", "column-3": "text"}
    shown = owner.post(f"{address}/columns", data=told).text
    assert "as you say" in shown
    owner.post(f"{address}/begin", data=told)
    waited(owner, address)
    stream = dossier_called(desk.db, number(1))
    assert stream is not None
    assert [m.row["text"] for m in state_of(desk.db, stream).standing] == ["see lid", "see lid"]
    assert owner.post(f"{address}/columns", data={"column-1": "evil"}).status_code == 422


def test_bad_rows_are_listed_with_what_would_be_accepted(
    owner: Client, desk: Desk, number: Callable[[int], str]
) -> None:
    text = HEAD + f"{number(1)},ot,993-354,1964,brackwater\n,ot,993-348,,\n=HYPER,zz,993-348,,\n"
    address = hand_in(owner, text)
    page = owner.get(address).text
    assert "can’t be weighed" in page and "unknown part" in page and "no dossier" in page
    owner.post(f"{address}/begin")
    waited(owner, address)
    answer = owner.get(f"{address}/bad-rows.csv")
    rows = answer.text.splitlines()
    assert rows[0].endswith("line,dossier,found,accepted")
    assert any(row.startswith("2,") for row in rows) and any(row.startswith("3,,") for row in rows)
    assert ",'=HYPER," in answer.text, "no formula for a spreadsheet"
    stream = dossier_called(desk.db, number(1))
    assert stream is not None
    assert state_of(desk.db, stream).standing[0].row["text"] == "993-354", "kept as typed"


def test_an_import_is_taken_back_but_for_what_was_worked_in_since(
    owner: Client, desk: Desk, number: Callable[[int], str]
) -> None:
    address = hand_in(owner, table(number))
    owner.post(f"{address}/begin")
    waited(owner, address)
    worked = dossier_called(desk.db, number(1))
    gone = dossier_called(desk.db, number(2))
    assert worked is not None and gone is not None
    from endbell.store import By

    append(desk.db, worked, [Change("note-set", {"note": "mine"})], by=By("RT"))
    owner.post(f"{address}/undo")
    assert "2 taken back; 1 left" in waited(owner, address)
    state = state_of(desk.db, gone)
    assert (state.closed, state.standing, len(state.marks)) == (True, (), 2)
    assert dossier_called(desk.db, number(2)) is None, "the number is free again"
    assert not state_of(desk.db, worked).closed
    again = hand_in(owner, table(number))
    owner.post(f"{again}/begin")
    assert "2 dossiers with 4 marks imported" in waited(owner, again)


def test_a_number_that_is_here_already_is_not_imported_over(
    owner: Client, desk: Desk, number: Callable[[int], str]
) -> None:
    from endbell.store import By

    here = new_id()
    append(desk.db, here, [Change("opened", {"number": number(1)})], by=By("RT"))
    address = hand_in(owner, table(number))
    assert "is here already; nothing of it is imported" in owner.get(address).text
    owner.post(f"{address}/begin")
    assert "2 dossiers" in waited(owner, address)
    assert state_of(desk.db, here).version == 1


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("a.csv", b"a\0b,c\n", "not a CSV file"),
        ("a.xlsx", b"PK\x03\x04 nothing", "not a spreadsheet"),
        ("photo.jpg", jpeg(), "not a CSV file"),
    ],
)
def test_what_is_no_table_is_said(owner: Client, name: str, data: bytes, says: str) -> None:
    assert says in owner.get(hand_in(owner, data, name)).text


def test_an_empty_file_and_another_address_are_refused(owner: Client) -> None:
    assert owner.post("/import", files={"file": ("a.csv", b"")}).status_code == 422
    assert owner.get("/import/x").status_code == 404
    assert owner.get(f"/import/{new_id()}").status_code == 404


# ---- tags


def test_the_tag_of_an_amp_without_its_owners_name(reader: Client, desk: Desk) -> None:
    dossier = a_dossier(desk)
    answer = reader.get(f"/dossiers/{dossier}/tag.pdf?size=100x62")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    assert answer.content == reader.get(f"/dossiers/{dossier}/tag.pdf?size=100x62").content
    assert reader.get(f"/dossiers/{dossier}/tag.pdf?size=a5").status_code == 422
    assert reader.get(f"/dossiers/{new_id()}/tag.pdf").status_code == 404
