"""Every route there is: who may use it, and that a forged form gets nowhere."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts

from endbell.web.csrf import HEADER, SAFE
from endbell.web.csrf_token import proof
from endbell.web.rights import OPEN_ROUTES, TOKEN_ROUTES, owner, reader, technician

from .conftest import Client
from .one_app import one_app
from .running import session_for

RIGHTS = (reader, technician, owner)
FILL = {"dossier": "01K0000000000000000000000A", "sha256": "0" * 64, "view": "front"}
FOR_READERS = {
    ("POST", "/logout"),
    ("POST", "/pair"),
    ("POST", "/settings"),
    ("POST", "/settings/device"),
    ("POST", "/settings/password"),
    ("POST", "/settings/sessions/end"),
    ("POST", "/settings/sessions/{session}/end"),
    ("POST", "/settings/tokens"),
    ("POST", "/settings/tokens/{token}/take-back"),
    ("POST", "/views"),
    ("POST", "/views/{view}/remove"),
}
"""What a reader may send: all about their own account and their own views, nothing about an amp."""

Way = tuple[str, str]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("shop") / "data") as app:
        yield app


@pytest.fixture(scope="module")
def ways(whole: FastAPI) -> list[Way]:
    """Method and path of everything that is answered."""
    return [
        (method, context.path or "")
        for context in iter_route_contexts(whole.routes)
        for method in sorted((context.methods or set()) - {"HEAD", "OPTIONS"})
    ]


def filled(path: str) -> str:
    """A path with something in the place of its parameters."""
    return re.sub(r"\{(\w+)(?::\w+)?\}", lambda m: FILL.get(m[1], "x"), path)


def rights_of(app: FastAPI) -> dict[Way, set[Callable[..., object]]]:
    """Which of the rights each route asks for by itself."""
    found: dict[Way, set[Callable[..., object]]] = {}
    for context in iter_route_contexts(app.routes):
        calls = set[Callable[..., object]]()
        waiting = [context.dependant] if context.endpoint else []
        while waiting:
            dependant = waiting.pop()
            calls.add(dependant.call)
            waiting += dependant.dependencies
        for method in (context.methods or set()) - {"HEAD", "OPTIONS"}:
            found[method, context.path or ""] = calls & set(RIGHTS)
    return found


def test_every_route_names_a_role_or_is_in_the_list_of_open_ones(
    whole: FastAPI, ways: list[Way]
) -> None:
    assert len(ways) > 60
    named = {way for way, rights in rights_of(whole).items() if rights}
    known = OPEN_ROUTES | TOKEN_ROUTES | {("GET", "/")}
    assert sorted(set(ways) - named - known) == []
    assert sorted(named & known) == []
    assert sorted(known - set(ways)) == []


def test_nobody_reaches_anything_without_signing_in(whole: FastAPI, ways: list[Way]) -> None:
    client = Client(whole)
    client.cookies.set("endbell-visit", "v" * 43, domain="127.0.0.1")
    client.prove("v" * 43)
    for method, path in ways:
        if (method, path) in OPEN_ROUTES | TOKEN_ROUTES:
            continue
        answer = client.request(method, filled(path), follow_redirects=False)
        led = answer.headers.get("location", "")
        refused = answer.status_code == 401 or led.startswith("/login")
        shown = method == "GET" and answer.status_code in (200, 404, 422)
        assert refused or not shown, (method, path, answer.status_code)
        assert refused or answer.status_code in (401, 422), (method, path, answer.status_code)


def test_a_secret_that_was_never_given_opens_nothing(whole: FastAPI) -> None:
    client = Client(whole)
    client.cookies.set("endbell-visit", "v" * 43, domain="127.0.0.1")
    client.prove("v" * 43)
    for method, path in TOKEN_ROUTES:
        assert client.request(method, filled(path)).status_code == 410, path


def unsafe(ways: list[Way]) -> list[Way]:
    return [way for way in ways if way[0] not in SAFE]


def test_every_unsafe_request_is_refused_without_the_proof_of_a_page(
    whole: FastAPI, ways: list[Way]
) -> None:
    secret = session_for(whole.state.desk.db, "owner")
    client = Client(whole, secret)
    tried = 0
    for method, path in unsafe(ways):
        for token in (None, "", "00" * 64, proof("somebody else's"), "not hex"):
            client.headers.pop(HEADER, None)
            if token is not None:
                client.headers[HEADER] = token
            answer = client.request(method, filled(path), data={"csrf": "0" * 128})
            assert answer.status_code == 403, (method, path)
            tried += 1
    assert tried > 150


def test_a_browser_that_says_it_comes_from_elsewhere_is_refused_even_with_proof(
    whole: FastAPI, ways: list[Way]
) -> None:
    client = Client(whole, session_for(whole.state.desk.db, "owner"))
    for method, path in unsafe(ways):
        for headers in (
            {"origin": "https://elsewhere.example"},
            {"origin": "null"},
            {"sec-fetch-site": "cross-site"},
            {"sec-fetch-site": "same-site"},
        ):
            answer = client.request(method, filled(path), headers=headers)
            assert answer.status_code == 403, (method, path, headers)


def test_a_reader_writes_nothing(whole: FastAPI, ways: list[Way]) -> None:
    client = Client(whole, session_for(whole.state.desk.db, "reader"))
    tried = 0
    for method, path in unsafe(ways):
        if (method, path) in FOR_READERS | OPEN_ROUTES | TOKEN_ROUTES:
            continue
        answer = client.request(method, filled(path), data={"key": "k"})
        assert answer.status_code == 403, (method, path, answer.status_code)
        tried += 1
    assert tried > 20
    assert sorted(FOR_READERS - set(ways)) == []


def test_only_an_owner_sees_and_changes_accounts(whole: FastAPI, ways: list[Way]) -> None:
    client = Client(whole, session_for(whole.state.desk.db, "technician"))
    found = [way for way in ways if way[1].startswith("/accounts")]
    assert len(found) >= 7
    for method, path in found:
        assert client.request(method, filled(path)).status_code == 403, path


def test_every_form_of_the_templates_carries_the_proof() -> None:
    folder = Path(__file__).parents[2] / "src" / "endbell" / "web" / "templates"
    bare: list[str] = []
    for path in folder.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        for form in re.findall(r"<form\b.*?</form>", text, re.DOTALL):
            head = form[: form.index(">")]
            if 'method="post"' in head and "hx-post" not in head and 'name="csrf"' not in form:
                bare.append(f"{path.name}: {head[:80]}")
    assert bare == []


def test_no_template_holds_a_script_or_a_style() -> None:
    folder = Path(__file__).parents[2] / "src" / "endbell" / "web" / "templates"
    wrong = re.compile(
        r"<script(?![^>]*\bsrc=)(?![^>]*type=\"application/json\")|<style|\sstyle=|\son\w+=\"|javascript:"
    )
    found = {
        path.name: wrong.findall(path.read_text(encoding="utf-8"))
        for path in folder.rglob("*.html")
    }
    assert {name: hits for name, hits in found.items() if hits} == {}
