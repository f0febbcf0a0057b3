"""Sharing a dossier: what the link shows, for how long, and what it does not tell."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from io import BytesIO

import pytest
from fastapi import FastAPI
from PIL import Image

from endbell.store import By, Change, append, new_id
from endbell.store.sessions import hashed
from endbell.store.shares import shares_of
from endbell.web.desk import Desk

from .conftest import Client
from .one_app import a_dossier, one_app
from .test_accounts import address_on


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop") / "data") as made:
        yield made


@pytest.fixture
def dossier(desk: Desk) -> str:
    made = a_dossier(desk)
    append(desk.db, made, [Change("intake-set", {"intake": {"whose": "A. Customer"}})], by=By("x"))
    return made


def shared(client: Client, dossier: str, **fields: str) -> str:
    body = {"label": "a buyer", "days": "7", "photos": "true", **fields}
    return address_on(client.post(f"/dossiers/{dossier}/shares", data=body).text)


def with_photo(client: Client, dossier: str) -> str:
    """Send a photo with a place in it; its SHA-256."""
    made = BytesIO()
    exif = Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (51.0, 30.0, 12.0)
    exif[0x010F] = "A camera of note"
    Image.new("RGB", (400, 300), "navy").save(made, "JPEG", exif=exif)
    files = {"photo": ("amp.jpg", made.getvalue(), "image/jpeg")}
    answer = client.post(f"/dossiers/{dossier}/photos", files=files, data={"key": new_id()})
    assert answer.status_code < 400, answer.text[:500]
    return re.findall(r"[0-9a-f]{64}", client.get(f"/api/v1/dossiers/{dossier}/photos").text)[0]


def test_whoever_has_the_link_reads_the_report_and_nothing_about_the_customer(
    app: FastAPI, client: Client, dossier: str, desk: Desk
) -> None:
    photo = with_photo(client, dossier)
    link = shared(client, dossier)
    answer = Client(app).get(link)
    assert answer.status_code == 200
    assert "993-348" in answer.text
    assert "A. Customer" not in answer.text
    assert "<script" not in answer.text
    assert "<form" not in answer.text
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert "noindex" in answer.headers["x-robots-tag"]
    assert answer.headers["cache-control"] == "no-store"
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "style-src 'sha256-" in policy
    assert "Content-Security-Policy" not in answer.text  # the header's holds, it allows pictures
    picture = re.search(rf'src="({link}/photos/{photo})"', answer.text)
    assert picture is not None
    shown = Client(app).get(picture[1])
    assert shown.headers["content-type"] == "image/webp"
    assert b"camera of note" not in shown.content
    assert not Image.open(BytesIO(shown.content)).getexif()


def test_a_link_without_photos_shows_none(app: FastAPI, client: Client, dossier: str) -> None:
    photo = with_photo(client, dossier)
    link = shared(client, dossier, photos="false")
    assert "/photos/" not in Client(app).get(link).text
    assert Client(app).get(f"{link}/photos/{photo}").status_code == 404


def test_a_link_opens_no_photo_of_another_dossier(
    app: FastAPI, client: Client, dossier: str
) -> None:
    link = shared(client, dossier)
    assert Client(app).get(f"{link}/photos/{'0' * 64}").status_code == 404
    assert Client(app).get(f"{link}/photos/..%2fx").status_code == 404


def test_a_link_expires(
    app: FastAPI, client: Client, dossier: str, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    link, start = shared(client, dossier), desk.now()
    monkeypatch.setattr(desk, "clock", lambda: start + timedelta(days=7, seconds=1))
    assert Client(app).get(link).status_code == 410


def test_a_link_is_taken_back_at_once(
    app: FastAPI, client: Client, dossier: str, desk: Desk
) -> None:
    link = shared(client, dossier)
    share = shares_of(desk.db, dossier)[0]
    client.post(f"/dossiers/{dossier}/shares/{share.id}/take-back")
    assert Client(app).get(link).status_code == 410
    assert "taken back" in client.get(f"/dossiers/{dossier}/shares").text


def test_the_link_is_kept_hashed_and_shown_once(client: Client, dossier: str, desk: Desk) -> None:
    token = shared(client, dossier).rpartition("/")[2]
    raw = b"".join(path.read_bytes() for path in desk.db.folder.glob("endbell.sqlite*"))
    assert hashed(token).encode() in raw
    assert token.encode() not in raw
    assert token not in client.get(f"/dossiers/{dossier}/shares").text


def test_the_shop_sees_whether_somebody_looked(
    app: FastAPI, client: Client, dossier: str, desk: Desk
) -> None:
    link = shared(client, dossier)
    assert "never" in client.get(f"/dossiers/{dossier}/shares").text
    Client(app).get(link)
    assert shares_of(desk.db, dossier)[0].looked_at == 1
    assert "1 ×" in client.get(f"/dossiers/{dossier}/shares").text


def test_a_hostile_mark_does_nothing_on_the_shared_page(
    app: FastAPI, client: Client, dossier: str, desk: Desk
) -> None:
    row = {
        "part": "ot",
        "kind": "source-date-code",
        "text": '"><img src=x onerror=alert(1)></main>',
    }
    append(desk.db, dossier, [Change("mark-set", {"mark": new_id(), "row": row})], by=By("x"))
    text = Client(app).get(shared(client, dossier)).text
    assert "<img src=x" not in text
