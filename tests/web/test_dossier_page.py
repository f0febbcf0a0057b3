"""The dossier page: the amp in sight, what can hurt behind its caution, everything about it at hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from fastapi import FastAPI

from endbell.store import DossierState, events_of, state_of
from endbell.web.desk import Desk

from .conftest import Client
from .one_app import a_dossier, one_app

HX = {"hx-request": "true"}


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop")) as made:
        yield made


@pytest.fixture
def dossier(desk: Desk) -> str:
    return a_dossier(desk)


@pytest.fixture
def now(desk: Desk, dossier: str) -> Callable[[], DossierState]:
    return lambda: state_of(desk.db, dossier)


# ---- the amp


def test_the_same_spots_stand_in_the_drawing_and_in_the_list(client: Client, dossier: str) -> None:
    said = client.get(f"/dossiers/{dossier}?view=back").text
    drawn = said.split("<svg")[1].split("</svg>")[0]
    for part in ("sp-1", "label", "valve-3", "chassis"):
        assert f'data-spot="{part}"' in drawn
        assert f'id="spot-{part}"' in said
    assert "not looked at" in said


def test_each_side_says_how_much_of_it_was_looked_at(client: Client, dossier: str) -> None:
    said = client.get(f"/dossiers/{dossier}/amp?view=papers").text
    assert "2 of 11" in said  # ot and pot-1 among the parts of the chassis
    assert 'aria-current="true">Papers' in said


def test_an_amp_that_is_not_there_is_said_so(client: Client) -> None:
    assert client.get("/dossiers/nothing").status_code == 404
    assert client.get("/dossiers/nothing/amp").status_code == 404


def test_a_reader_sees_the_amp_and_nothing_to_enter(reader: Client, dossier: str) -> None:
    said = reader.get(f"/dossiers/{dossier}").text
    assert "Undo my last entry" not in said
    assert "Save the claim" not in said
    sheet = reader.get(f"/dossiers/{dossier}/spots/badge", headers=HX).text
    assert 'id="entry"' not in sheet


# ---- the caution


def test_the_chassis_stands_behind_its_caution(client: Client, dossier: str) -> None:
    said = client.get(f"/dossiers/{dossier}?view=chassis").text
    assert "High voltage" in said
    assert "licensed practice" in said
    assert 'data-spot="pot-2"' not in said
    sheet = client.get(f"/dossiers/{dossier}/spots/pot-2", headers=HX).text
    assert "licensed practice" in sheet
    assert 'id="entry"' not in sheet


def test_a_look_from_outside_needs_no_caution_on_the_same_part(
    client: Client, dossier: str
) -> None:
    outside = client.get(f"/dossiers/{dossier}/spots/chassis?look=serial", headers=HX).text
    within = client.get(f"/dossiers/{dossier}/spots/chassis?look=year-stamp", headers=HX).text
    assert ('id="entry"' in outside, 'id="entry"' in within) == (True, False)


def test_who_has_read_the_caution_is_kept_and_shown(
    client: Client, dossier: str, now: Callable[[], DossierState]
) -> None:
    sent = {"level": "chassis-out", "name": "T. Bench", "view": "chassis"}
    answer = client.post(f"/dossiers/{dossier}/cautions", data=sent, headers=HX)
    assert answer.headers["hx-trigger"] == "caution-read"
    assert 'data-spot="pot-2"' in answer.text
    assert "Caution read by T. Bench" in answer.text
    (read,) = now().acknowledged
    assert (read.level, read.name) == ("chassis-out", "T. Bench")
    assert 'id="entry"' in client.get(f"/dossiers/{dossier}/spots/pot-2", headers=HX).text


def test_a_caution_without_a_name_is_not_read(client: Client, dossier: str) -> None:
    sent = {"level": "chassis-out", "name": " "}
    assert client.post(f"/dossiers/{dossier}/cautions", data=sent).status_code == 422
    sent = {"level": "attic", "name": "T. Bench"}
    assert client.post(f"/dossiers/{dossier}/cautions", data=sent).status_code == 422


def test_a_reader_can_not_acknowledge_a_caution(reader: Client, dossier: str) -> None:
    sent = {"level": "chassis-out", "name": "R. Reader"}
    assert reader.post(f"/dossiers/{dossier}/cautions", data=sent).status_code == 403


# ---- about the amp


def save(client: Client, dossier: str, what: str, **form: object) -> int:
    address = f"/dossiers/{dossier}/record/{what}"
    return client.post(address, data=form, headers=HX).status_code


def test_a_model_of_the_packs_brings_its_maker(
    client: Client, dossier: str, now: Callable[[], DossierState]
) -> None:
    told = {"model": "wick-6", "maker": "", "built": "1958/1960", "original": "everything"}
    assert (
        save(client, dossier, "claim", **told, **{"except": "valves; elcos", "by": "seller"}) == 200
    )
    assert now().claim == {
        "maker": "brackwater", "model": "wick-6", "built": "1958/1960",
        "original": ["everything"], "except": ["valves", "elcos"], "by": "seller",
    }  # fmt: skip
    assert (
        "built 1958/1960, everything original but valves, elcos (seller)"
        in client.get(f"/dossiers/{dossier}").text
    )


def test_a_date_that_is_none_is_refused_with_what_would_do(client: Client, dossier: str) -> None:
    answer = client.post(f"/dossiers/{dossier}/record/claim", data={"built": "about then"})
    assert answer.status_code == 422
    assert "EDTF" in answer.text
    assert save(client, dossier, "known", made="long ago") == 422


def test_everything_else_about_it_is_kept(
    client: Client, dossier: str, now: Callable[[], DossierState]
) -> None:
    assert (
        save(client, dossier, "intake", whose="A. Customer", why="hums", claim="all original")
        == 200
    )
    assert save(client, dossier, "known", made="1961/1967") == 200
    assert save(client, dossier, "note", note="smells of damp\nkeep dry") == 200
    assert save(client, dossier, "tags", tags="damp, for sale") == 200
    assert save(client, dossier, "closed") == 200
    state = now()
    assert state.intake == {"claim": "all original", "whose": "A. Customer", "why": "hums"}
    assert (state.known, state.tags, state.closed) == (
        {"made": "1961/1967"},
        ("damp", "for sale"),
        True,
    )
    assert state.note == "smells of damp\nkeep dry"
    said = client.get(f"/dossiers/{dossier}").text
    assert "‘all original’" in said
    assert "hums" in said


def test_a_number_belongs_to_one_amp(client: Client, desk: Desk, dossier: str) -> None:
    other = state_of(desk.db, a_dossier(desk)).number
    mine = state_of(desk.db, dossier).number
    assert save(client, dossier, "head", number=other) == 409
    assert save(client, dossier, "head", number="") == 422
    assert save(client, dossier, "head", number=mine, purpose="sell", packs=["brackwater"]) == 200
    assert state_of(desk.db, dossier).head["purpose"] == "sell"
    assert save(client, dossier, "head", number=mine, packs=["nobodys"]) == 422


def test_a_part_that_no_pack_expects_gets_its_spot(client: Client, dossier: str) -> None:
    sent = {"id": "lamp", "class": "other", "assembly": "chassis"}
    assert client.post(f"/dossiers/{dossier}/parts", data=sent, headers=HX).status_code == 200
    assert client.get(f"/dossiers/{dossier}/spots/lamp", headers=HX).status_code == 200
    unknown = client.post(f"/dossiers/{dossier}/parts", data={"id": "gizmo"}, headers=HX)
    assert unknown.status_code == 422


def test_a_repair_is_recorded_and_can_be_withdrawn(
    client: Client, dossier: str, now: Callable[[], DossierState]
) -> None:
    address = f"/dossiers/{dossier}/repairs"
    sent = {"part": "elco-1", "replaced": "yes", "done": "1998-05", "note": "ticket 8812"}
    assert client.post(address, data=sent, headers=HX).status_code == 200
    (repair,) = now().repairs
    assert repair.row == {
        "part": "elco-1",
        "replaced": True,
        "done": "1998-05",
        "note": "ticket 8812",
    }
    assert client.post(address, data={"part": "gizmo"}, headers=HX).status_code == 422
    assert client.post(f"{address}/{repair.id}/withdraw", headers=HX).status_code == 200
    assert now().repairs[0].withdrawn
    assert client.post(f"{address}/{repair.id}/withdraw", headers=HX).status_code == 404


def test_what_is_typed_stays_text(client: Client, dossier: str) -> None:
    assert save(client, dossier, "note", note="<script>alert(1)</script>") == 200
    assert "<script>alert" not in client.get(f"/dossiers/{dossier}").text


def test_a_reader_changes_nothing(reader: Client, desk: Desk, dossier: str) -> None:
    before = len(events_of(desk.db, dossier))
    for what in ("claim", "intake", "known", "note", "tags", "head", "closed"):
        assert save(reader, dossier, what, number="X-1") == 403
    for what in ("parts", "repairs", "marks"):
        assert reader.post(f"/dossiers/{dossier}/{what}", data={"id": "lamp"}).status_code == 403
    assert len(events_of(desk.db, dossier)) == before
