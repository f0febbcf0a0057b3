"""Booking in: a minute with a phone; what is not known comes later."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator

import pytest
from fastapi import FastAPI
from PIL import Image

from endbell.store import SHOP, By, Change, append, new_id, state_of
from endbell.store.numbers import next_number
from endbell.web.desk import Desk

from .conftest import Client
from .one_app import a_dossier, one_app


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop")) as made:
        yield made


def photo() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "#705030").save(out, "JPEG")
    return out.getvalue()


def book(client: Client, **form: str) -> str:
    """The id of the dossier that was opened."""
    answer = client.post("/book-in", data={"key": new_id(), **form}, follow_redirects=False)
    assert answer.status_code == 303, answer.text[:600]
    found = re.fullmatch(r"/dossiers/([0-9A-Z]{26})\?booked=yes", answer.headers["location"])
    assert found is not None, answer.headers["location"]
    return found[1]


def test_four_fields_open_a_dossier(client: Client, desk: Desk) -> None:
    made = book(
        client, number="TRV-2026-0300", claim="all original 1964", model="brackwater lantern-20-reverb",
        built="1964", whose="A. Halloran", why="to be sold", purpose="sell",
    )  # fmt: skip
    state = state_of(desk.db, made)
    assert state.number == "TRV-2026-0300"
    assert state.head == {"purpose": "sell", "packs": ["brackwater"]}
    assert state.claim == {"maker": "brackwater", "model": "lantern-20-reverb", "built": "1964"}
    assert state.intake == {
        "claim": "all original 1964",
        "whose": "A. Halloran",
        "why": "to be sold",
    }
    page = client.get(f"/dossiers/{made}?booked=yes").text
    assert "Booked in as TRV-2026-0300" in page
    assert f"/dossiers/{made}/tag.pdf" in page


def test_nothing_has_to_be_known(client: Client, desk: Desk) -> None:
    state = state_of(desk.db, book(client))
    assert re.fullmatch(r".+-\d{4}-\d{4,}", state.number)
    assert (state.claim, state.intake) == ({}, {})


def test_a_photo_comes_along(client: Client, desk: Desk) -> None:
    answer = client.post(
        "/book-in",
        data={"key": new_id()},
        files={"photo": ("amp.jpg", photo(), "image/jpeg")},
        follow_redirects=False,
    )
    made = answer.headers["location"].split("/")[2].split("?")[0]
    assert [p.name for p in state_of(desk.db, made).photos] == ["amp.jpg"]


def test_a_file_that_is_no_photo_does_not_stop_the_booking(client: Client, desk: Desk) -> None:
    answer = client.post(
        "/book-in",
        data={"key": new_id(), "whose": "B. Flyn"},
        files={"photo": ("amp.txt", b"no picture", "text/plain")},
    )
    assert "The photo was not kept" in answer.text
    assert "Booked in as" in answer.text


def test_the_next_number_follows_the_last_of_the_year(desk: Desk) -> None:
    opened = Change("opened", {"number": "SHOP-1999-0009"})
    append(desk.db, new_id(), [opened], by=By("tests", "test"))
    assert next_number(desk.db, 1999) == "SHOP-1999-0010"
    assert next_number(desk.db, 2000) == "SHOP-2000-0001"
    told = Change("setting-set", {"name": "number-prefix", "value": "TR"})
    append(desk.db, SHOP, [told], by=By("tests", "test"))
    assert next_number(desk.db, 2000) == "TR-2000-0001"


def test_a_number_that_was_typed_and_is_taken_is_refused_and_nothing_lost(
    client: Client, desk: Desk
) -> None:
    taken = state_of(desk.db, a_dossier(desk)).number
    answer = client.post("/book-in", data={"number": taken, "whose": "C. Moss", "key": new_id()})
    assert answer.status_code == 409
    assert "another amp" in answer.text
    assert 'value="C. Moss"' in answer.text


def test_a_number_that_was_only_proposed_makes_way(client: Client, desk: Desk) -> None:
    taken = state_of(desk.db, a_dossier(desk)).number
    made = book(client, number=taken, proposed=taken)
    assert state_of(desk.db, made).number not in ("", taken)


def test_a_booking_sent_twice_opens_one_dossier(client: Client, desk: Desk) -> None:
    sent = {"key": new_id(), "dossier": new_id(), "whose": "D. Vane", "number": "TRV-2026-0900"}
    assert book(client, **sent) == sent["dossier"]
    assert book(client, **sent) == sent["dossier"]


def test_a_date_that_is_none_is_said_on_the_page(client: Client) -> None:
    answer = client.post("/book-in", data={"built": "long ago", "claim": "old", "key": new_id()})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert 'value="old"' in answer.text


def test_a_reader_books_nothing_in(reader: Client) -> None:
    assert reader.get("/book-in").status_code == 403
    assert reader.post("/book-in", data={"whose": "x"}).status_code == 403
