"""The API: what a program reads and records, once each, with the rights of its account."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI

from endbell.dossier.load import dossier_of
from endbell.store import events_of, new_id, state_of
from endbell.web.desk import Desk

from .conftest import Client
from .one_app import a_dossier, one_app

V1 = "/api/v1"
MARK = {"part": "pot-2", "kind": "source-date-code", "text": "992-342"}


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop") / "data") as made:
        yield made


@pytest.fixture
def dossier(desk: Desk) -> str:
    return a_dossier(desk)


def mark_set(row: dict[str, Any] | None = None, mark: str = "") -> dict[str, Any]:
    return {"kind": "mark-set", "data": {"mark": mark or new_id(), "row": row or MARK}}


def send(client: Client, dossier: str, *changes: dict[str, Any], key: str = "") -> Any:
    body = {"key": key or new_id(), "changes": list(changes)}
    return client.post(f"{V1}/dossiers/{dossier}/changes", json=body)


def test_an_amp_is_booked_in_once_however_often_it_is_sent(client: Client, desk: Desk) -> None:
    body = {
        "key": new_id(),
        "number": f"T-{new_id()}",
        "packs": ["brackwater"],
        "claim": {"maker": "brackwater", "model": "lantern-20", "built": "1964"},
    }
    first = client.post(f"{V1}/dossiers", json=body)
    again = client.post(f"{V1}/dossiers", json=body)
    assert first.status_code == again.status_code == 201
    assert first.json()["dossier"] == again.json()["dossier"]
    assert (first.json()["repeated"], again.json()["repeated"]) == (False, True)
    assert len(events_of(desk.db, first.json()["dossier"])) == 1


def test_a_number_that_is_taken_is_refused(client: Client, dossier: str, desk: Desk) -> None:
    body = {"key": new_id(), "number": state_of(desk.db, dossier).number}
    answer = client.post(f"{V1}/dossiers", json=body)
    assert answer.status_code == 409
    assert "in use already" in answer.json()["error"]["found"]


def test_a_change_is_recorded_once_with_who_and_what(
    client: Client, dossier: str, desk: Desk
) -> None:
    key = new_id()
    first = send(client, dossier, mark_set(), key=key).json()
    again = send(client, dossier, mark_set(), key=key).json()
    assert first["events"] == again["events"]
    assert again["repeated"]
    assert len(state_of(desk.db, dossier).standing) == 3
    told = client.get(f"{V1}/dossiers/{dossier}/history?after=3").json()["events"]
    assert [event["kind"] for event in told] == ["mark-set"]
    assert told[0]["key"] == key


def test_changes_are_recorded_all_or_none(client: Client, dossier: str, desk: Desk) -> None:
    answer = send(client, dossier, mark_set(), {"kind": "note-set", "data": {"notes": "x"}})
    assert answer.status_code == 422
    assert "note-set" in answer.json()["error"]["found"]
    assert state_of(desk.db, dossier).version == 3


def test_a_key_that_was_used_for_another_dossier_is_refused(
    client: Client, dossier: str, desk: Desk
) -> None:
    other, key = a_dossier(desk), new_id()
    assert send(client, dossier, mark_set(), key=key).status_code == 200
    assert send(client, other, mark_set(), key=key).status_code == 409
    assert state_of(desk.db, other).version == 3


@pytest.mark.parametrize(
    "data",
    [
        {"mark": "x" * 65, "row": MARK},
        {"mark": "", "row": MARK},
        {"mark": "m", "row": {**MARK, "text": "a\0b"}},
        {"mark": "m", "row": {**MARK, "text": "x" * 20_001}},
        {"mark": "m", "row": {**MARK, "n": 2**60}},
        {"mark": "m", "row": {"a": [[[[[[[[[[[[[[1]]]]]]]]]]]]]]}},
    ],
)
def test_what_no_database_could_keep_is_refused(
    client: Client, dossier: str, data: dict[str, Any]
) -> None:
    answer = send(client, dossier, {"kind": "mark-set", "data": data})
    assert answer.status_code == 422
    assert answer.json()["error"]["accepted"]


def test_a_number_that_is_none_and_half_a_character_are_refused(
    client: Client, dossier: str
) -> None:
    for value in ("NaN", "Infinity", "-Infinity", "1e999", '"\\ud800"'):
        raw = '{"key":"%s","changes":[{"kind":"known-set","data":{"known":{"x":%s}}}]}'
        answer = client.post(
            f"{V1}/dossiers/{dossier}/changes",
            content=raw % (new_id(), value),
            headers={"content-type": "application/json"},
        )
        assert answer.status_code == 422, value
        assert "error" in answer.json()


@pytest.mark.parametrize("kind", ["photo-added", "opened", "caution-acknowledged", "nonsense"])
def test_what_a_program_may_not_record_is_refused_with_the_way_to_do_it(
    client: Client, dossier: str, kind: str
) -> None:
    answer = send(client, dossier, {"kind": kind, "data": {"number": "x"}})
    assert answer.status_code == 422
    assert answer.json()["error"]["found"]


def test_undo_by_a_program_takes_an_entry_back(client: Client, dossier: str, desk: Desk) -> None:
    assert send(client, dossier, {"kind": "undone", "data": {"n": 3}}).status_code == 200
    assert len(state_of(desk.db, dossier).standing) == 1
    assert send(client, dossier, {"kind": "redone", "data": {"n": 3}}).status_code == 200
    assert len(state_of(desk.db, dossier).standing) == 2
    assert send(client, dossier, {"kind": "undone", "data": {"n": 1}}).status_code == 422
    assert send(client, dossier, {"kind": "undone", "data": {"n": 99}}).status_code == 422


def test_the_form_is_a_dossier_file(client: Client, dossier: str, desk: Desk) -> None:
    form = client.get(f"{V1}/dossiers/{dossier}/form").json()
    read = dossier_of(form, {}, reference_for=desk.packs.reference, today=desk.today())
    assert [mark.text for mark in read.marks] == ["993-348", "992-341"]
    state = client.get(f"{V1}/dossiers/{dossier}").json()
    assert [mark["row"]["text"] for mark in state["marks"]] == ["993-348", "992-341"]
    assert [mark["n"] for mark in state["marks"]] == [1, 2]


def test_the_verdict_is_the_engines_own(client: Client, dossier: str) -> None:
    answer = client.get(f"{V1}/dossiers/{dossier}/verdict").json()
    assert answer["trouble"] == ""
    assert answer["version"] == 3
    assert answer["verdict"]["format"] == "endbell-verdict/1"
    assert answer["says"]


def test_a_pack_that_is_not_there_stops_no_verdict(client: Client, dossier: str) -> None:
    send(client, dossier, {"kind": "head-set", "data": {"keys": {"packs": ["no-such-pack"]}}})
    answer = client.get(f"{V1}/dossiers/{dossier}/verdict")
    assert answer.status_code == 200
    assert answer.json()["version"] == 4


def test_lists_come_a_page_at_a_time_and_none_is_left_out(client: Client, desk: Desk) -> None:
    made = {a_dossier(desk) for _ in range(5)}
    found, after = list[str](), ""
    while True:
        page = client.get(f"{V1}/dossiers", params={"limit": 2, "after": after}).json()
        found += [line["id"] for line in page["dossiers"]]
        after = page["after"]
        if after is None:
            break
    assert made <= set(found)
    assert len(found) == len(set(found))


def test_search_looks_through_all_that_was_recorded(client: Client, desk: Desk) -> None:
    wanted = a_dossier(desk)
    send(client, wanted, {"kind": "note-set", "data": {"note": "smells of cedarwood"}})
    page = client.get(f"{V1}/dossiers", params={"search": "cedarw"}).json()
    assert [line["id"] for line in page["dossiers"]] == [wanted]
    assert client.get(f"{V1}/dossiers", params={"search": "%_"}).json()["dossiers"] == []


def test_packs_and_oneself_are_told(client: Client) -> None:
    packs = client.get(f"{V1}/packs").json()["packs"]
    assert "brackwater" in {pack["id"] for pack in packs}
    assert client.get(f"{V1}/me").json()["role"] == "technician"


def test_a_reader_reads_and_records_nothing(reader: Client, dossier: str) -> None:
    for path in ("", "/form", "/history", "/photos"):
        assert reader.get(f"{V1}/dossiers/{dossier}{path}").status_code == 200
    assert send(reader, dossier, mark_set()).status_code == 403
    body = {"key": new_id(), "number": "T-1"}
    assert reader.post(f"{V1}/dossiers", json=body).status_code == 403


def test_an_id_that_is_none_is_not_found(client: Client) -> None:
    for name in ("x", "x" * 500, "shop", "a b", "%00", "ÿ"):
        answer = client.get(f"{V1}/dossiers/{name}")
        assert answer.status_code == 404, name
        assert answer.json()["error"]["status"] == 404


def test_the_description_names_every_address_and_the_form_of_errors(client: Client) -> None:
    made = client.get(f"{V1}/openapi.json").json()
    assert made["openapi"].startswith("3.")
    assert len(made["paths"]) == 9
    assert set(made["components"]["securitySchemes"]) == {"token", "session"}
    for path in made["paths"].values():
        for way in path.values():
            refs = way["responses"]["422"]["content"]["application/json"]["schema"]["$ref"]
            assert refs.endswith("/Refused")
