"""Entering a mark: verbatim, once, by whoever typed it; and the hand led on to the next spot."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from fastapi import FastAPI

from endbell.store import By, Change, DossierState, append, events_of, new_id, state_of
from endbell.web.desk import Desk

from .conftest import Client
from .one_app import a_dossier, one_app
from .running import NAMES

HX = {"hx-request": "true"}


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop")) as made:
        yield made


@pytest.fixture
def dossier(desk: Desk) -> str:
    """An amp whose caution has been read."""
    return read_caution(desk, a_dossier(desk))


def read_caution(desk: Desk, dossier: str) -> str:
    read = Change("caution-acknowledged", {"level": "chassis-out", "name": "T. Bench"})
    append(desk.db, dossier, [read], by=By("tests", "test"))
    return dossier


@pytest.fixture
def now(desk: Desk, dossier: str) -> Callable[[], DossierState]:
    return lambda: state_of(desk.db, dossier)


def code(part: str, text: str, **more: str) -> dict[str, str]:
    look = "source-date-code"
    return {"part": part, "look": look, "kind": look, "text": text, "key": new_id(), **more}


def enter(client: Client, dossier: str, form: dict[str, str]) -> str:
    answer = client.post(f"/dossiers/{dossier}/marks", data=form, headers=HX)
    assert answer.status_code == 200, answer.text
    return answer.text


# ---- recorded


def test_a_mark_is_kept_exactly_as_typed(
    client: Client, desk: Desk, dossier: str, now: Callable[[], DossierState]
) -> None:
    sent = code("pt", "99[34]-3?8", legibility="worn", place="bell, lower edge", note="rust")
    enter(client, dossier, sent)
    assert now().marks[-1].row == {
        "part": "pt", "kind": "source-date-code", "text": "99[34]-3?8", "legibility": "worn",
        "place": "bell, lower edge", "note": "rust",
        "by": NAMES["technician"], "on": desk.today().isoformat(),
    }  # fmt: skip


def test_a_text_that_no_code_fits_is_kept_all_the_same(
    client: Client, dossier: str, now: Callable[[], DossierState]
) -> None:
    enter(client, dossier, code("pt", "993-354"))
    assert now().marks[-1].row["text"] == "993-354"


def test_an_entry_sent_twice_is_there_once(
    client: Client, dossier: str, now: Callable[[], DossierState]
) -> None:
    sent = code("pt", "993-348", mark=new_id())
    enter(client, dossier, sent)
    enter(client, dossier, sent)
    found = [mark for mark in now().standing if mark.row["part"] == "pt"]
    assert [mark.id for mark in found] == [sent["mark"]]


def test_a_key_used_for_another_amp_is_refused(client: Client, desk: Desk, dossier: str) -> None:
    sent = code("pt", "993-348")
    enter(client, read_caution(desk, a_dossier(desk)), sent)
    answer = client.post(f"/dossiers/{dossier}/marks", data=sent, headers=HX)
    assert answer.status_code == 409


def test_nothing_of_the_chassis_is_entered_before_its_caution_was_read(
    client: Client, desk: Desk
) -> None:
    closed = a_dossier(desk)
    count = len(state_of(desk.db, closed).marks)
    inside = code("pt", "993-348")
    refused = client.post(f"/dossiers/{closed}/marks", data=inside, headers=HX)
    assert refused.status_code == 409
    assert "nobody has read" in refused.text and "with a name to it" in refused.text
    assert len(state_of(desk.db, closed).marks) == count
    # from outside: the loudspeaker needs no chassis out, and that it can't be done is no work
    enter(client, closed, code("sp-1", "995-720"))
    enter(client, closed, code("pt", "", result="not-possible"))
    enter(client, read_caution(desk, closed), inside)
    assert len(state_of(desk.db, closed).marks) == count + 3


def test_what_can_not_be_typed_is_an_answer(
    client: Client, dossier: str, now: Callable[[], DossierState]
) -> None:
    for result in ("illegible", "not-possible", "nothing-found"):
        enter(client, dossier, code("choke", "", result=result))
        assert now().marks[-1].row["result"] == result
        assert "text" not in now().marks[-1].row


def test_an_empty_entry_and_an_unknown_kind_are_refused(client: Client, dossier: str) -> None:
    for sent in (code("pt", " "), {**code("pt", "1"), "kind": "rumour"}, code("", "993-348")):
        answer = client.post(f"/dossiers/{dossier}/marks", data=sent, headers=HX)
        assert answer.status_code == 422
        assert 'role="alert"' in answer.text


def test_another_wording_keeps_the_first_in_the_history(
    client: Client, desk: Desk, dossier: str, now: Callable[[], DossierState]
) -> None:
    mark = now().marks[0]
    address = f"/dossiers/{dossier}/marks/{mark.id}"
    assert client.post(address, data=code("ot", "993-349"), headers=HX).status_code == 200
    assert now().mark(mark.id).row["text"] == "993-349"  # type: ignore[union-attr]
    texts = [e.data["row"]["text"] for e in events_of(desk.db, dossier) if e.kind == "mark-set"]
    assert texts[0] == "993-348"
    answer = client.post(f"/dossiers/{dossier}/marks/{new_id()}", data=code("ot", "1"), headers=HX)
    assert answer.status_code == 404


def test_a_withdrawn_mark_leaves_the_form_and_stays_listed(
    client: Client, dossier: str, now: Callable[[], DossierState]
) -> None:
    mark = now().marks[0]
    answer = client.post(f"/dossiers/{dossier}/marks/{mark.id}/withdraw", headers=HX)
    assert answer.status_code == 200
    assert mark.id not in {m.id for m in now().standing}
    page = client.get(f"/dossiers/{dossier}").text
    assert "Withdrawn: 1" in page
    assert f"/history?mark={mark.id}" in page


def test_a_feature_a_measure_and_a_paper_have_rows_of_their_own(
    client: Client, dossier: str, now: Callable[[], DossierState]
) -> None:
    feature = {
        "part": "knobs",
        "look": "feature:knob-shape",
        "kind": "feature",
        "feature": "knob-shape",
    }
    enter(client, dossier, {**feature, "value": "skirted"})
    enter(client, dossier, {**feature, "value": "absent"})
    measure = {"part": "cloth", "look": "measured:weave-pitch", "kind": "measured"}
    measure |= {"quantity": "weave-pitch", "value": "0.09", "unit": "in", "uncertainty": "0.005"}
    enter(client, dossier, measure)
    paper = {
        "part": "paper-1",
        "look": "document",
        "kind": "document",
        "date": "1965-02",
        "text": "receipt",
    }
    enter(client, dossier, paper)
    rows = [{k: v for k, v in m.row.items() if k not in ("by", "on")} for m in now().marks[-4:]]
    assert rows == [
        {"part": "knobs", "kind": "feature", "feature": "knob-shape", "value": "skirted"},
        {"part": "knobs", "kind": "feature", "feature": "knob-shape", "result": "absent"},
        {"part": "cloth", "kind": "measured", "quantity": "weave-pitch", "value": 0.09, "unit": "in", "uncertainty": 0.005},
        {"part": "paper-1", "kind": "document", "text": "receipt", "date": "1965-02"},
    ]  # fmt: skip


# ---- led on


def test_after_a_pot_comes_the_next_pot_not_yet_read(client: Client, dossier: str) -> None:
    said = enter(client, dossier, code("pot-2", "992-341"))
    assert 'name="part" value="pot-3"' in said
    assert 'id="amp"' in said and "hx-swap-oob" in said
    assert '<div id="strip" hx-swap-oob' in said


def test_after_the_last_of_its_class_the_sheet_is_done(client: Client, dossier: str) -> None:
    answer = client.post(f"/dossiers/{dossier}/marks", data=code("ot", "993-348"), headers=HX)
    assert answer.headers["hx-trigger"] == "sheet-done"
    assert 'id="entry"' not in answer.text


def test_after_a_feature_comes_the_next_one_of_the_same_part(client: Client, dossier: str) -> None:
    sent = {
        "part": "knobs",
        "look": "feature:knob-shape",
        "kind": "feature",
        "feature": "knob-shape",
    }
    said = enter(client, dossier, {**sent, "value": "skirted"})
    assert 'name="look" value="feature:knob-colour"' in said


def test_the_next_check_opens_its_own_look(client: Client, dossier: str) -> None:
    said = client.get(f"/dossiers/{dossier}/spots/pot-3?check=pot-joint", headers=HX).text
    assert 'name="kind" value="condition"' in said


def test_entries_at_a_spot_are_listed_with_their_author(client: Client, dossier: str) -> None:
    enter(client, dossier, code("pt", "993-350"))
    said = client.get(f"/dossiers/{dossier}/spots/pt", headers=HX).text
    assert "<code>993-350</code>" in said
    assert NAMES["technician"] in said


def test_a_spot_that_is_not_there_is_refused(client: Client, dossier: str) -> None:
    assert client.get(f"/dossiers/{dossier}/spots/gizmo", headers=HX).status_code == 404


def test_without_scripts_the_sheet_is_a_page_and_its_form_works(
    client: Client, dossier: str, now: Callable[[], DossierState]
) -> None:
    page = client.get(f"/dossiers/{dossier}/spots/pt")
    assert "<!DOCTYPE html>" in page.text
    answer = client.post(
        f"/dossiers/{dossier}/marks", data=code("pt", "993-350"), follow_redirects=False
    )
    assert (answer.status_code, answer.headers["location"]) == (303, f"/dossiers/{dossier}")
    assert now().marks[-1].row["text"] == "993-350"


# ---- while typing


def test_typing_says_what_it_means_and_moves_the_strip_without_recording(
    client: Client, desk: Desk, dossier: str
) -> None:
    before = len(events_of(desk.db, dossier))
    said = client.post(f"/dossiers/{dossier}/preview", data=code("pt", "993-348"), headers=HX).text
    assert "Means 1953, 1963 or 1973, week 48." in said
    assert '<div id="strip" hx-swap-oob="innerHTML" data-would="' in said
    assert len(events_of(desk.db, dossier)) == before


def test_a_wrong_week_is_said_with_codes_to_tap_on(client: Client, dossier: str) -> None:
    said = client.post(f"/dossiers/{dossier}/preview", data=code("pt", "993-354"), headers=HX).text
    assert 'data-take="993-352"' in said
    assert 'id="strip"' not in said


def test_a_reader_is_shown_no_preview(reader: Client, dossier: str) -> None:
    answer = reader.post(f"/dossiers/{dossier}/preview", data=code("pt", "993-348"), headers=HX)
    assert answer.status_code == 403
