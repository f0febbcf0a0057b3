"""An application over a database of its own, clients signed in to it, a real server, a browser."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, Page
from starlette.testclient import TestClient
from tests.chromium import chromium

from endbell.store import By, Change, append, new_id
from endbell.web.app import create_app
from endbell.web.csrf import HEADER
from endbell.web.csrf_token import proof
from endbell.web.desk import Desk
from endbell.web.settings import Settings

from .browser import PHONE, context_at
from .running import CHEAP, Running, add_people, running, session_for

HERE = "http://127.0.0.1"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What a real browser fails is tried once more: it shares two cores with a server and a
    database.  The summary counts what needed it ('rerun'); a second failure is one."""
    for item in items:
        if isinstance(item, pytest.Function) and "browser" in item.fixturenames:
            item.add_marker(pytest.mark.flaky(reruns=1))


class Client(TestClient):
    """A browser without a window: keeps cookies; ``prove`` sends the token that pages carry."""

    def __init__(self, app: FastAPI, session: str | None = None) -> None:
        super().__init__(app, base_url=HERE, client=("127.0.0.1", 50000))
        if session is not None:
            self.cookies.set("endbell", session, domain="127.0.0.1")
            self.prove(session)

    def prove(self, session: str) -> None:
        """Send with every request the proof that it comes from a page of this session."""
        self.headers[HEADER] = proof(session)


@pytest.fixture
def app(tmp_path: Path) -> Iterator[FastAPI]:
    """The workbench over a database in a temporary folder, with an account of each role."""
    made = create_app(Settings(data=tmp_path / "shop", hash_cost=CHEAP))
    add_people(made.state.desk.db)
    with TestClient(made, base_url=HERE):  # starts and stops what runs beside the requests
        yield made


@pytest.fixture
def desk(app: FastAPI) -> Desk:
    """What the screens share."""
    return app.state.desk


@pytest.fixture
def signed_in(app: FastAPI) -> Callable[[str], Client]:
    """A client for a role: 'reader', 'technician', 'owner'; '' for nobody."""

    def made(role: str) -> Client:
        return Client(app, session_for(app.state.desk.db, role) if role else None)

    return made


@pytest.fixture
def client(signed_in: Callable[[str], Client]) -> Client:
    """Signed in as a technician."""
    return signed_in("technician")


@pytest.fixture
def owner(signed_in: Callable[[str], Client]) -> Client:
    """Signed in as an owner."""
    return signed_in("owner")


@pytest.fixture
def reader(signed_in: Callable[[str], Client]) -> Client:
    """Signed in as a reader."""
    return signed_in("reader")


@pytest.fixture
def nobody(signed_in: Callable[[str], Client]) -> Client:
    """Not signed in."""
    return signed_in("")


@pytest.fixture
def dossier(desk: Desk) -> str:
    """The id of a dossier: number TRV-0001, a claim, two marks."""
    made = new_id()
    append(
        desk.db,
        made,
        [
            Change(
                "opened",
                {
                    "number": "TRV-0001",
                    "purpose": "sale",
                    "packs": ["brackwater"],
                    "claim": {"maker": "brackwater", "model": "lantern-20", "built": "1964"},
                    "intake": {"whose": "A. Customer", "why": "sale"},
                },
            ),
            Change(
                "mark-set",
                {
                    "mark": new_id(),
                    "row": {"part": "ot", "kind": "source-date-code", "text": "993-348"},
                },
            ),
            Change(
                "mark-set",
                {
                    "mark": new_id(),
                    "row": {"part": "pot-1", "kind": "source-date-code", "text": "992-341"},
                },
            ),
        ],
        by=By("tests", "test"),
    )
    return made


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The real server as a process of its own, one for all tests of a file."""
    with running(tmp_path_factory.mktemp("shop")) as made:
        yield made


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A real Chromium, one for all tests of a file."""
    with chromium() as made:
        yield made


@pytest.fixture
def page(browser: Browser, server: Running) -> Iterator[Page]:
    """A page at a desk, signed in as a technician."""
    context = context_at(browser, server)
    yield context.new_page()
    context.close()


@pytest.fixture
def phone(browser: Browser, server: Running) -> Iterator[Page]:
    """A page on a phone, signed in as a technician."""
    context = context_at(browser, server, PHONE)
    yield context.new_page()
    context.close()
