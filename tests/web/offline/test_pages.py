"""The real pages without a connection: a dossier opened before, booking in, photos, signing out."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from endbell.store import state_of
from endbell.store.database import reading
from endbell.store.tables import dossiers

from ..browser import PHONE, context_at
from ..running import NAMES, PASSWORD
from .rig import Bench, all_sent, until, waiting


@pytest.fixture
def page(browser: Browser, server: Bench) -> Iterator[Page]:
    """A phone on which somebody has signed in and the service worker has come up."""
    context = context_at(browser, server, PHONE)
    made = context.new_page()
    made.goto("/offline/unsent")
    until(made, "navigator.serviceWorker.ready.then(r => !!navigator.serviceWorker.controller)")
    yield made
    context.close()


def photo(colour: str = "grey") -> Any:
    """A photo as the camera gives it."""
    out = io.BytesIO()
    Image.new("RGB", (320, 240), colour).save(out, "JPEG")
    return {"name": f"{colour}.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def fetched(page: Page, *parts: str) -> None:
    """Has the sheets of these parts kept, without waiting until their turn comes."""
    for part in parts:
        page.evaluate(
            "p => fetch(`${location.pathname}/spots/${p}`, {headers: {'HX-Request': 'true'}})", part
        )
    ahead(page, *parts)


def ahead(page: Page, *parts: str) -> None:
    """Waits until the sheets of these parts are kept."""
    for part in parts:
        until(
            page,
            "part => caches.match(`${location.pathname}/spots/${part}`).then(found => !!found)",
            part,
        )


def test_a_dossier_opened_before_opens_without_a_connection_and_takes_entries(
    page: Page, server: Bench, dossier: str
) -> None:
    page.goto(f"/dossiers/{dossier}?view=back")
    ahead(page, "sp-1")
    page.context.set_offline(True)
    page.reload()
    expect(page.locator("#outbox-line")).to_have_text("all sent · no connection")
    expect(page.locator("#strip-later")).to_have_text("offline: verdict later")
    page.click("#spot-sp-1")
    page.fill("#e-field", "995-348")
    expect(page.locator("#meaning")).to_have_text("offline: verdict later")
    page.press("#e-field", "Enter")
    expect(page.locator("[data-unsent-here]")).to_contain_text("995-348")
    expect(page.locator("#spot-sp-1")).to_contain_text("not sent yet")
    expect(page.locator("#sheet")).to_be_hidden()
    page.reload()
    expect(page.locator("#outbox-line")).to_have_text("1 not sent yet · no connection")
    page.context.set_offline(False)
    all_sent(page)
    assert server.texts(dossier) == ["995-348"]
    expect(page.locator("#spot-sp-1")).not_to_contain_text("not sent yet")
    expect(page.locator("#spot-sp-1")).to_contain_text("995-348")
    expect(page.locator("#strip-later")).to_be_hidden()


def test_a_photo_taken_without_a_connection_shows_the_mark_entered_after_it(
    page: Page, server: Bench, dossier: str
) -> None:
    page.goto(f"/dossiers/{dossier}?view=back")
    fetched(page, "sp-1")
    page.context.set_offline(True)
    page.click("#spot-sp-1")
    page.set_input_files("#sheet-body .camera input[type=file]", photo())
    until(page, "endbell.outbox.all().then(all => all.length === 1)")
    page.fill("#e-field", "995-348")
    page.press("#e-field", "Enter")
    until(page, "endbell.outbox.all().then(all => all.length === 2)")
    page.context.set_offline(False)
    all_sent(page)
    db = server.open()
    state = state_of(db, dossier)
    db.close()
    (kept,) = state.photos
    assert kept.mark == state.standing[0].id
    assert kept.part == "sp-1" or kept.part is None


def test_without_a_connection_the_hand_goes_on_to_the_neighbour_as_it_does_with_one(
    page: Page, server: Bench, dossier: str
) -> None:
    page.goto(f"/dossiers/{dossier}?view=back")
    fetched(page, "valve-1", "valve-2", "valve-3")
    page.context.set_offline(True)
    page.click("#spot-valve-1")
    for n, said in enumerate(("Illegible", "Nothing there", "Not possible"), start=1):
        expect(page.locator("#sheet-title")).to_contain_text(f"valve-{n}")
        page.get_by_role("button", name=said).click()
    expect(page.locator("#sheet")).to_be_hidden()
    expect(page.locator("[data-unsent-here] li")).to_have_count(3)
    page.context.set_offline(False)
    all_sent(page)
    rows = [event.data["row"] for event in server.entered(dossier)]
    assert [(row["part"], row["result"]) for row in rows] == [
        ("valve-1", "illegible"), ("valve-2", "nothing-found"), ("valve-3", "not-possible"),
    ]  # fmt: skip
    assert len({event.data["mark"] for event in server.entered(dossier)}) == 3


def test_booking_in_works_without_a_connection_and_another_number_is_said(
    page: Page, server: Bench
) -> None:
    page.goto("/book-in")
    page.goto("/offline/unsent")
    page.context.set_offline(True)
    taken: list[str] = []
    for whose in ("A. Customer", "B. Customer"):
        page.goto("/book-in")
        taken.append(page.input_value("#b-number"))
        page.fill("#b-claim", "all original 1964")
        page.fill("#b-whose", whose)
        page.set_input_files("input[name=photo]", [photo("red"), photo("blue")])
        page.get_by_role("button", name="Book in").click()
        page.get_by_text("kept on this device, not sent yet").wait_for()
    assert taken[0] == taken[1]
    assert len(waiting(page)) == 6
    page.goto("/offline/unsent")
    page.context.set_offline(False)
    all_sent(page)
    db = server.open()
    with reading(db) as connection:
        ids = {row.number: row.id for row in connection.execute(dossiers.select())}
    booked = [
        n for n in ids if state_of(db, ids[n]).intake.get("whose") in ("A. Customer", "B. Customer")
    ]
    photos = [len(state_of(db, ids[number]).photos) for number in booked]
    db.close()
    assert len(booked) == 2
    assert photos == [2, 2]
    for number in booked:
        link = page.locator("[data-sent] a", has_text=number)
        assert link.get_attribute("href") == f"/dossiers/{ids[number]}"


def test_what_nobody_is_signed_in_for_waits_for_its_own_account(
    page: Page, server: Bench, dossier: str, browser: Browser
) -> None:
    page.goto(f"/dossiers/{dossier}/trial")
    page.context.clear_cookies()  # the session has ended on the server's side
    page.fill("#text", "typed by the technician")
    page.press("#text", "Enter")
    expect(page.locator("#outbox-line")).to_have_text("1 not sent yet · sign in to send")

    name, value = server.cookie("owner")
    page.context.add_cookies([{"name": name, "value": value, "url": server.address}])
    page.goto("/offline/unsent")
    expect(page.locator("#outbox-line")).to_have_text("1 of another account")
    expect(page.locator("#unsent")).not_to_contain_text("typed by the technician")
    assert server.texts(dossier) == []

    name, value = server.cookie("technician")
    page.context.add_cookies([{"name": name, "value": value, "url": server.address}])
    page.goto("/offline/unsent")
    all_sent(page)
    (event,) = server.entered(dossier)
    assert event.data["row"]["text"] == "typed by the technician"


def test_signing_out_asks_about_what_is_unsent_and_leaves_no_page_behind(
    page: Page, server: Bench, dossier: str
) -> None:
    page.goto(f"/dossiers/{dossier}")
    until(page, "caches.match(location.href).then(found => !!found)")
    page.goto(f"/dossiers/{dossier}/trial")
    (server.folder / "later").touch()
    page.fill("#text", "later, by somebody who has gone")
    page.press("#text", "Enter")
    expect(page.locator("#outbox-line")).to_contain_text("1 not sent yet · the server is at")
    sign_out = page.get_by_role("button", name="Sign out", exact=True)
    sign_out.click()
    expect(page.get_by_role("heading", name="1 not sent yet")).to_be_visible()
    page.get_by_role("button", name="Stay").click()
    assert len(waiting(page)) == 1
    sign_out.click()
    page.get_by_role("button", name="Sign out, keep them").click()
    page.wait_for_url("**/login")
    kept = page.evaluate("caches.keys().then(all => all.filter(n => !n.includes('program')))")
    assert kept == []
    page.goto("/offline/unsent")
    expect(page.locator("[data-others]")).to_contain_text("1 entered by another account")
    expect(page.locator("#unsent")).not_to_contain_text("somebody who has gone")
    page.goto("/login")
    (server.folder / "later").unlink()
    page.get_by_label("Name").fill(NAMES["technician"])
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.locator("#outbox-line").wait_for()
    all_sent(page)
    assert server.texts(dossier) == ["later, by somebody who has gone"]


def test_a_page_never_opened_says_so_and_lists_those_that_open(
    page: Page, server: Bench, dossier: str
) -> None:
    page.goto(f"/dossiers/{dossier}")
    until(page, "caches.match(location.href).then(found => !!found)")
    title = page.title()
    page.context.set_offline(True)
    page.goto("/packs")
    expect(page.get_by_role("heading", name="No connection")).to_be_visible()
    page.locator("[data-pages] a", has_text=title).click()
    expect(page.locator("#amp")).to_be_visible()


def test_an_older_program_makes_way_and_its_pages_still_find_their_files(
    browser: Browser, server: Bench
) -> None:
    context = context_at(browser, server, PHONE)
    page = context.new_page()
    page.goto("/healthy")
    page.evaluate("caches.open('endbell-program-older').then(c => c.put('/x', new Response('')))")
    page.goto("/offline/unsent")
    until(
        page,
        "caches.keys().then(all => all.some(n => n.includes('program') && !n.includes('older')))",
    )
    until(page, "caches.keys().then(all => !all.includes('endbell-program-older'))")
    until(page, "!!navigator.serviceWorker.controller")
    context.set_offline(True)
    assert page.evaluate("fetch('/static/0123456789ab/app.css').then(r => r.status)") == 200
    context.close()
