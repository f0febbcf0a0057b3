"""History: every event, who, when, on which device, from what to what; taken back and restored."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi import FastAPI

from endbell.store import By, Change, append, events_of, new_id, state_of
from endbell.store.accounts import account_named
from endbell.store.sessions import device_for, name_device
from endbell.web.desk import Desk
from endbell.web.history_lines import Line, history, last_redoable, last_undoable

from .conftest import Client
from .one_app import a_dossier, one_app
from .running import NAMES
from .test_live import plain

HX = {"HX-Request": "true", "HX-Target": "history"}


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """One workbench for this file."""
    with one_app(tmp_path_factory.mktemp("shop")) as made:
        yield made


@pytest.fixture
def dossier(desk: Desk) -> str:
    """A dossier of its own."""
    return a_dossier(desk)


def me(desk: Desk) -> By:
    """The technician on the bench's tablet."""
    account = account_named(desk.db, NAMES["technician"])
    assert account is not None
    device, _ = device_for(desk.db, None, "tablet")
    name_device(desk.db, device, "bench tablet")
    return By(account.id, device)


def set_mark(desk: Desk, dossier: str, mark: str, text: str, by: By) -> None:
    row = {"part": "choke", "kind": "source-date-code", "text": text}
    append(desk.db, dossier, [Change("mark-set", {"mark": mark, "row": row})], by=by)


def lines_of(desk: Desk, dossier: str) -> tuple[Line, ...]:
    return history(events_of(desk.db, dossier), {}, {})


def test_every_event_is_there_with_who_and_on_which_device(
    client: Client, desk: Desk, dossier: str
) -> None:
    set_mark(desk, dossier, new_id(), "993-401", me(desk))
    said = plain(client.get(f"/dossiers/{dossier}/history").text)
    for event in events_of(desk.db, dossier):
        assert f"no. {event.n} " in said
    assert f"{NAMES['technician']} · bench tablet" in said
    assert "entered choke: 993-401" in said


def test_a_new_wording_shows_the_old_one(client: Client, desk: Desk, dossier: str) -> None:
    mark = new_id()
    set_mark(desk, dossier, mark, "993-401", me(desk))
    set_mark(desk, dossier, mark, "993-4?1", me(desk))
    newest = lines_of(desk, dossier)[0]
    assert newest.changes == (("text", "993-401", "993-4?1"),)
    html = client.get(f"/dossiers/{dossier}/history").text
    assert "<del>993-401</del>" in html
    assert "<ins>993-4?1</ins>" in html


def test_what_stood_before_leaves_out_what_was_undone_by_then(desk: Desk, dossier: str) -> None:
    mark = new_id()
    set_mark(desk, dossier, mark, "993-401", me(desk))
    set_mark(desk, dossier, mark, "993-411", me(desk))
    slip = events_of(desk.db, dossier)[-1].n
    append(desk.db, dossier, [Change("undone", {"n": slip})], by=me(desk))
    set_mark(desk, dossier, mark, "993-402", me(desk))
    assert lines_of(desk, dossier)[0].changes == (("text", "993-401", "993-402"),)


def test_who_changed_this_shows_one_mark_alone(client: Client, desk: Desk, dossier: str) -> None:
    mark = new_id()
    set_mark(desk, dossier, mark, "993-401", me(desk))
    set_mark(desk, dossier, mark, "993-402", me(desk))
    said = plain(client.get(f"/dossiers/{dossier}/history", params={"mark": mark}).text)
    assert "Only mark 3." in said
    assert "993-402" in said
    assert "992-341" not in said


def test_an_entry_is_taken_back_and_restored(client: Client, desk: Desk, dossier: str) -> None:
    set_mark(desk, dossier, new_id(), "993-401", me(desk))
    n = events_of(desk.db, dossier)[-1].n
    answer = client.post(f"/dossiers/{dossier}/undo", data={"n": n}, headers=HX)
    assert answer.status_code == 200
    assert "taken back" in plain(answer.text)
    assert len(state_of(desk.db, dossier).standing) == 2
    client.post(f"/dossiers/{dossier}/redo", data={"n": n}, headers=HX)
    assert len(state_of(desk.db, dossier).standing) == 3
    kinds = [event.kind for event in events_of(desk.db, dossier)]
    assert kinds[-2:] == ["undone", "redone"], "and both stay in the history"


def test_undo_takes_back_ones_own_last_entry_and_nobody_elses(
    client: Client, desk: Desk, dossier: str
) -> None:
    set_mark(desk, dossier, new_id(), "993-401", me(desk))
    set_mark(desk, dossier, new_id(), "993-350", By("somebody else"))
    said = plain(client.post(f"/dossiers/{dossier}/undo", headers={"HX-Request": "true"}).text)
    assert "Taken back" in said
    assert "993-401" in said
    texts = [mark.row["text"] for mark in state_of(desk.db, dossier).standing]
    assert texts == ["993-348", "992-341", "993-350"]
    said = plain(client.post(f"/dossiers/{dossier}/redo", headers={"HX-Request": "true"}).text)
    assert "Restored" in said
    assert len(state_of(desk.db, dossier).standing) == 4


def test_undo_again_goes_one_further_back(desk: Desk, dossier: str) -> None:
    by = me(desk)
    for text in ("993-401", "993-402"):
        set_mark(desk, dossier, new_id(), text, by)
    numbers: list[int] = []
    for _ in range(2):
        n = last_undoable(events_of(desk.db, dossier), by.who)
        assert n is not None
        numbers.append(n)
        append(desk.db, dossier, [Change("undone", {"n": n})], by=by)
    assert numbers == [5, 4]
    assert last_undoable(events_of(desk.db, dossier), by.who) is None
    redone: list[int] = []
    for _ in range(2):
        n = last_redoable(events_of(desk.db, dossier), by.who)
        assert n is not None
        redone.append(n)
        append(desk.db, dossier, [Change("redone", {"n": n})], by=by)
    assert redone == [4, 5]


def test_nothing_is_restored_over_a_newer_entry(desk: Desk, dossier: str) -> None:
    by = me(desk)
    set_mark(desk, dossier, new_id(), "993-401", by)
    append(desk.db, dossier, [Change("undone", {"n": 4})], by=by)
    set_mark(desk, dossier, new_id(), "993-402", by)
    assert last_redoable(events_of(desk.db, dossier), by.who) is None


@pytest.mark.parametrize("n", [1, 99])
def test_the_beginning_and_what_is_not_there_cannot_be_taken_back(
    client: Client, desk: Desk, dossier: str, n: int
) -> None:
    before = len(events_of(desk.db, dossier))
    assert client.post(f"/dossiers/{dossier}/undo", data={"n": n}, headers=HX).status_code == 422
    assert len(events_of(desk.db, dossier)) == before


def test_that_a_caution_was_read_stays(client: Client, desk: Desk, dossier: str) -> None:
    read = Change("caution-acknowledged", {"level": "chassis-out", "name": "Tomas"})
    append(desk.db, dossier, [read], by=me(desk))
    n = events_of(desk.db, dossier)[-1].n
    assert client.post(f"/dossiers/{dossier}/undo", data={"n": n}, headers=HX).status_code == 422


def test_nothing_to_take_back_is_said_so(client: Client, dossier: str) -> None:
    answer = client.post(f"/dossiers/{dossier}/undo", headers={"HX-Request": "true"})
    assert answer.status_code == 409
    assert "nothing of yours" in plain(answer.text)


def test_a_reader_takes_nothing_back(reader: Client, dossier: str) -> None:
    assert reader.post(f"/dossiers/{dossier}/undo", data={"n": 2}).status_code == 403
    assert "Take back" not in reader.get(f"/dossiers/{dossier}/history").text


def test_sent_twice_it_is_taken_back_once(client: Client, desk: Desk, dossier: str) -> None:
    set_mark(desk, dossier, new_id(), "993-401", me(desk))
    for _ in range(2):
        data = {"n": 4, "key": "01HYYYYYYYYYYYYYYYYYYYYYYY"}
        client.post(f"/dossiers/{dossier}/undo", data=data, headers=HX)
    assert [e.kind for e in events_of(desk.db, dossier)].count("undone") == 1


def test_what_was_typed_cannot_disturb_the_page(client: Client, desk: Desk, dossier: str) -> None:
    set_mark(desk, dossier, new_id(), "<script>alert(1)</script>", me(desk))
    for path in ("history", "why", "timeline", "strip", "next"):
        assert "<script>alert" not in client.get(f"/dossiers/{dossier}/{path}").text


def test_a_long_history_comes_in_pages(client: Client, desk: Desk, dossier: str) -> None:
    notes = [Change("note-set", {"note": str(i)}) for i in range(230)]
    append(desk.db, dossier, notes, by=me(desk))
    html = client.get(f"/dossiers/{dossier}/history").text
    assert html.count('class="hs-line') == 200
    assert "before=34" in html
    older = plain(client.get(f"/dossiers/{dossier}/history", params={"before": 34}).text)
    assert "no. 33 " in older
    assert "no. 34 " not in older
