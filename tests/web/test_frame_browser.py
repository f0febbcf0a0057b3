"""The pages of accounts as a person meets them: on a phone, at a desk, by day and by night."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from endbell.store.accounts import account_named
from endbell.store.links import PAIRING, PASSWORD, make_link

from .browser import DESK, PHONE, Scheme, context_at, faults, sideways, too_small
from .one_app import a_dossier
from .running import NAMES, Running, running
from .running import PASSWORD as WORDS

LOOKS: list[tuple[tuple[int, int], Scheme]] = [
    (DESK, "light"),
    (PHONE, "dark"),
]


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("shop"), options=("--lan",)) as made:
        yield made


def link(server: Running, purpose: str) -> str:
    db = server.open()
    try:
        account = account_named(db, NAMES["technician"])
        assert account is not None
        return make_link(db, purpose, account.id, "technician", by=account.id)[0]
    finally:
        db.close()


def looked_at(page: Page, name: str) -> None:
    """Nothing wrong, nothing too small, nothing wider than the window; a picture if asked for."""
    if folder := os.environ.get("ENDBELL_SHOTS"):
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)
    assert faults(page) == []
    assert sideways(page) <= 0
    phone = page.viewport_size is not None and page.viewport_size["width"] < 500
    assert too_small(page, 44 if phone else 24) == []


@pytest.mark.parametrize(("size", "scheme"), LOOKS)
def test_no_fault_of_accessibility_is_found_on_the_pages_of_accounts(
    browser: Browser, server: Running, size: tuple[int, int], scheme: Scheme
) -> None:
    context = context_at(browser, server, size, "owner", scheme)
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    for path in ("/settings", "/accounts", "/pair"):
        page.goto(path)
        looked_at(page, f"{path[1:]}-{size[0]}-{scheme}")
    page.get_by_role("button", name="Show the code").click()
    page.get_by_text("Point the phone's camera here").wait_for()
    looked_at(page, f"code-{size[0]}-{scheme}")
    context.clear_cookies()
    for name, path in (
        ("login", "/login"),
        ("password", f"/password/{link(server, PASSWORD)}"),
        ("paired", f"/pair/{link(server, PAIRING)}"),
    ):
        page.goto(path)
        looked_at(page, f"{name}-{size[0]}-{scheme}")
    assert complaints == []
    page.goto("/s/never-given")
    looked_at(page, f"gone-{size[0]}-{scheme}")
    context.close()


@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "light")])
def test_a_shared_dossier_is_read_by_somebody_without_an_account(
    browser: Browser, server: Running, size: tuple[int, int], scheme: Scheme
) -> None:
    db = server.open()
    dossier = _dossier(db)
    db.close()
    context = context_at(browser, server, size, "technician", scheme)
    page = context.new_page()
    page.goto(f"/dossiers/{dossier}/shares")
    page.get_by_label("For whom").fill("a buyer")
    page.get_by_role("button", name="Make a link").click()
    address = page.locator("#address").input_value()
    looked_at(page, f"shares-{size[0]}-{scheme}")
    context.clear_cookies()
    page.goto(f"/s/{address.rpartition('/s/')[2]}")
    page.get_by_role("heading", name="Parts").wait_for()
    assert faults(page) == []
    assert sideways(page) <= 0
    context.close()


def _dossier(db: object) -> str:
    class Desk:
        pass

    desk = Desk()
    desk.db = db  # type: ignore[attr-defined]
    return a_dossier(desk)  # type: ignore[arg-type]


def test_somebody_signs_in_by_keyboard_alone_and_the_focus_is_seen(
    browser: Browser, server: Running
) -> None:
    context = context_at(browser, server, DESK, None)
    page = context.new_page()
    page.goto("/login")
    page.keyboard.type(NAMES["technician"])
    page.keyboard.press("Tab")
    page.keyboard.type(WORDS)
    page.keyboard.press("Enter")
    page.get_by_role("link", name=NAMES["technician"]).wait_for()
    page.goto("/settings")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    for _ in range(12):
        page.keyboard.press("Tab")
        width = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
        assert int(width.removesuffix("px")) >= 2
    context.close()


def test_the_theme_of_the_settings_outweighs_that_of_the_device(
    browser: Browser, server: Running
) -> None:
    context = context_at(browser, server, DESK, "reader", "light")
    page = context.new_page()
    page.goto("/settings")
    ground = "getComputedStyle(document.body).backgroundColor"
    by_day = page.evaluate(ground)
    page.get_by_label("Light or dark").select_option("dark")
    page.get_by_role("button", name="Have it so").click()
    page.get_by_text("Pages look like that from now on.").wait_for()
    assert page.evaluate(ground) != by_day
    page.emulate_media(media="print")
    assert page.evaluate(ground) == "rgb(255, 255, 255)"
    context.close()
