"""One killable server and one browser for all of it, pages that forget each other."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page
from tests.chromium import chromium

from ..browser import PHONE
from .rig import Bench, bench


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """A real Chromium."""
    with chromium() as made:
        yield made


@pytest.fixture(scope="package")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """The server with the trial page."""
    with bench(tmp_path_factory.mktemp("shop")) as made:
        yield made


@pytest.fixture
def dossier(server: Bench) -> str:
    """A new dossier on it."""
    return server.dossier()


@pytest.fixture
def trial(browser: Browser, server: Bench, dossier: str) -> Iterator[Page]:
    """The trial page of that dossier on a phone, signed in as a technician.

    Without a service worker, which would only slow down tests that don't need one.
    """
    context = browser.new_context(
        viewport={"width": PHONE[0], "height": PHONE[1]},
        has_touch=True,
        is_mobile=True,
        base_url=server.address,
        service_workers="block",
    )
    context.set_default_timeout(30_000)  # a busy machine is slow, not wrong
    name, value = server.cookie("technician")
    context.add_cookies([{"name": name, "value": value, "url": server.address}])
    page = context.new_page()
    page.goto(f"/dossiers/{dossier}/trial")
    yield page
    context.close()
