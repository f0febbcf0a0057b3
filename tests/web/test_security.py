"""What every answer carries, which names are answered, what is too large or too slow, faults."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import APIRouter, FastAPI
from fastapi.responses import PlainTextResponse
from sqlalchemy.exc import DataError, IntegrityError, OperationalError

from endbell.store import NoDossier
from endbell.web.app import create_app
from endbell.web.assets import shipped
from endbell.web.csrf import HEADER
from endbell.web.csrf_token import proof, proves
from endbell.web.desk import Desk
from endbell.web.errors import refusal_of
from endbell.web.limits import MB, PLAIN, Limits, limit_of
from endbell.web.routes.static_files import FAR
from endbell.web.settings import Settings

from .conftest import HERE, Client
from .running import CHEAP, PASSWORD, session_for

FAULTY = APIRouter()


@FAULTY.get("/faulty/{what}")
def faulty(what: str) -> PlainTextResponse:
    if what == "full":
        raise OSError(28, "No space left on device")
    if what == "full-database":
        error = sqlite3.OperationalError("database or disk is full")
        error.sqlite_errorname = "SQLITE_FULL"  # type: ignore[attr-defined]
        raise OperationalError("INSERT", {}, error)
    raise RuntimeError("something secret: /srv/shop/password")


@pytest.fixture
def with_faults(app: FastAPI) -> FastAPI:
    app.include_router(FAULTY)
    return app


# ---- headers


def test_every_answer_tells_the_browser_to_be_strict(with_faults: FastAPI, client: Client) -> None:
    asset = f"/static/{shipped().stamp}/app.css"
    for path in ("/settings", "/nowhere", "/api/v1/me", asset, "/faulty/x", "/login"):
        headers = client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy
        for name, value in (
            ("x-content-type-options", "nosniff"),
            ("x-frame-options", "DENY"),
            ("referrer-policy", "same-origin"),
            ("cross-origin-opener-policy", "same-origin"),
            ("cross-origin-resource-policy", "same-origin"),
        ):
            assert headers[name] == value, path
        assert "geolocation=()" in headers["permissions-policy"]
        assert "server" not in headers
    assert "frame-ancestors 'none'" in policy
    assert "object-src 'none'" in policy
    assert "base-uri 'none'" in policy
    assert "form-action 'self'" in policy


def test_pages_are_kept_by_no_cache_and_no_other_site_may_read_them(client: Client) -> None:
    answer = client.get("/settings", headers={"origin": "https://elsewhere.example"})
    assert answer.headers["cache-control"] == "no-store"
    assert not [name for name in answer.headers if name.startswith("access-control")]


def test_only_names_that_are_ours_are_answered(app: FastAPI, client: Client) -> None:
    for host in ("rebound.example", "127.0.0.1.rebound.example", "", "[::1"):
        answer = client.get("/settings", headers={"host": host})
        assert answer.status_code == 421, host
    for host in ("127.0.0.1:8484", "LOCALHOST", "[::1]:9"):
        assert client.get("/healthy", headers={"host": host}).status_code == 200, host


def test_a_forwarded_header_makes_nobody_local(app: FastAPI) -> None:
    client = Client(app)
    told = {"x-forwarded-for": "127.0.0.1", "x-forwarded-host": "rebound.example"}
    assert "rebound" not in client.get("/login", headers=told).text


# ---- the proof


def test_the_proof_looks_different_each_time_and_fits_one_session_only() -> None:
    made = {proof("a secret") for _ in range(20)}
    assert len(made) == 20
    assert all(proves(token, "a secret") for token in made)
    assert not any(proves(token, "another") for token in made)


def test_a_form_carries_its_proof_in_a_field(app: FastAPI, desk: Desk) -> None:
    secret = session_for(desk.db, "technician")
    client = Client(app, secret)
    del client.headers[HEADER]
    body = {"csrf": proof(secret), "name": "The bench"}
    assert client.post("/settings/device", data=body).status_code == 200
    assert "The bench" in client.get("/settings").text
    # a form with files: the field stands before them
    files = {"csrf": (None, proof(secret)), "name": (None, "The shelf"), "x": ("a", b"x" * 9000)}
    assert client.post("/settings/device", files=files).status_code == 200
    assert "The shelf" in client.get("/settings").text


def test_a_field_far_behind_a_file_is_not_looked_for(app: FastAPI, desk: Desk) -> None:
    secret = session_for(desk.db, "technician")
    client = Client(app, secret)
    del client.headers[HEADER]
    files = {"x": ("a", b"x" * 200_000), "csrf": (None, proof(secret)), "name": (None, "n")}
    assert client.post("/settings/device", files=files).status_code == 403


# ---- limits


def test_what_is_larger_than_it_may_be_is_not_read(client: Client) -> None:
    answer = client.post("/settings", data={"theme": "x" * (PLAIN + 10)})
    assert answer.status_code == 413
    assert "at most 1 MB" in answer.text

    def endless() -> Iterator[bytes]:  # no length told beforehand
        for _ in range(30):
            yield b"x" * 65536

    kind = {"content-type": "application/x-www-form-urlencoded"}
    assert client.post("/settings", content=endless(), headers=kind).status_code == 413


@pytest.mark.parametrize("told", ["-1", "1e9", "0x10", "²", " "])
def test_a_length_that_is_none_is_refused(told: str) -> None:
    assert asyncio.run(_limited(told.encode("latin-1", "replace"), [])) in (400, 413)


def test_photos_and_imports_may_be_larger_and_nothing_else() -> None:
    assert limit_of("/dossiers/01K/photos") > 10 * MB
    for path in ("/login", "/dossiers/01K/marks", "/api/v1/dossiers", "/photos", "/importer"):
        assert limit_of(path) == PLAIN


def test_a_sender_that_falls_silent_is_not_waited_for() -> None:
    assert asyncio.run(_limited(b"10", None)) == 408


async def _limited(length: bytes, body: list[bytes] | None) -> int:
    """The status with which a request through the limits ends; None: it says nothing more."""
    sent: list[Any] = []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        await receive()
        await PlainTextResponse("read")(scope, receive, send)

    async def receive() -> Any:
        if body is None:
            await asyncio.sleep(30)
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {
        "type": "http",
        "method": "POST",
        "path": "/api/x",
        "query_string": b"",
        "headers": [(b"content-length", length), (b"accept", b"application/json")],
    }
    await Limits(app, silence=0.01)(scope, receive, send)
    return sent[0]["status"]


# ---- faults


def test_a_fault_is_said_without_what_it_held(
    with_faults: FastAPI, client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    page = client.get("/faulty/x")
    assert page.status_code == 500
    assert "A fault in Endbell itself" in page.text
    for text in (page.text, client.get("/faulty/x", headers={"accept": "application/json"}).text):
        assert "secret" not in text
        assert "Traceback" not in text
    assert "something secret" in caplog.text


@pytest.mark.parametrize("what", ["full", "full-database"])
def test_a_full_disk_is_told_as_one(with_faults: FastAPI, client: Client, what: str) -> None:
    answer = client.get(f"/faulty/{what}")
    assert answer.status_code == 507
    assert "The disk is full; nothing was recorded" in answer.text


@pytest.mark.parametrize(
    ("path", "method", "status"),
    [
        ("/nowhere", "GET", 404),
        ("/dossiers/01K0000000000000000000000A", "GET", 404),
        ("/login", "DELETE", 405),
        ("/accounts", "GET", 403),
        ("/pair/never-given", "GET", 410),
    ],
)
def test_a_refusal_is_a_page_a_fragment_or_json_and_says_what_would_do(
    client: Client, path: str, method: str, status: int
) -> None:
    page = client.request(method, path)
    assert page.status_code == status
    assert "What would do:" in page.text
    assert "<main" in page.text
    part = client.request(method, path, headers={"hx-request": "true"})
    assert part.status_code == status
    assert part.text.startswith('<p class="refused" role="alert">')
    data = client.request(method, path, headers={"accept": "application/json"}).json()
    assert list(data) == ["error"]
    assert list(data["error"]) == ["status", "found", "accepted", "place"]
    assert data["error"]["status"] == status
    assert data["error"]["found"]
    assert data["error"]["accepted"]


def test_what_the_rooms_below_say_is_passed_on() -> None:
    assert refusal_of(NoDossier("there is no dossier x")).status == 404
    assert refusal_of(IntegrityError("INSERT", {}, Exception("UNIQUE"))).status == 409
    assert refusal_of(DataError("INSERT", {}, Exception("too long"))).status == 422


def test_htmx_is_led_to_the_sign_in(nobody: Client) -> None:
    answer = nobody.get("/settings", headers={"hx-request": "true"})
    assert answer.status_code == 401
    assert answer.headers["hx-redirect"] == "/login"


# ---- static files


def test_static_files_are_kept_for_good_under_an_address_that_follows_their_content(
    nobody: Client,
) -> None:
    assets = shipped()
    assert nobody.get(assets.address("app.css")).headers["cache-control"] == FAR
    old = nobody.get("/static/000000000000/app.css")
    assert old.headers["cache-control"] == "no-cache"
    tag = {"if-none-match": old.headers["etag"]}
    assert nobody.get(assets.address("app.css"), headers=tag).status_code == 304


def test_nothing_but_static_files_is_served_and_no_folder_is_listed(nobody: Client) -> None:
    for name in ("", "vendor/", "vendor", "../app.py", "..%2f..%2fapp.py", "vendor/vendor.toml"):
        assert nobody.get(f"/static/0/{name}").status_code == 404, name


def test_text_is_sent_packed(client: Client) -> None:
    for path in (shipped().address("app.css"), "/settings"):
        answer = client.get(path, headers={"accept-encoding": "gzip"})
        assert answer.headers["content-encoding"] == "gzip"
        assert "Accept-Encoding" in answer.headers["vary"]


def test_a_second_name_is_answered_when_it_was_told(tmp_path: Any) -> None:
    made = create_app(Settings(data=tmp_path, hash_cost=CHEAP, hosts=("bench.local",)))
    client = Client(made)
    assert client.get(f"{HERE}/healthy", headers={"host": "bench.local:80"}).status_code == 200
    made.state.desk.db.close()


def test_the_page_never_shows_a_password_that_was_typed(nobody: Client, desk: Desk) -> None:
    nobody.cookies.set("endbell-visit", "v" * 43, domain="127.0.0.1")
    nobody.prove("v" * 43)
    answer = nobody.post("/login", data={"name": "x", "password": PASSWORD})
    assert answer.status_code == 403
    assert PASSWORD not in answer.text
