"""The page of what has not been sent: what, when typed, why not; mended or thrown away by hand."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from ..browser import DESK, PHONE, context_at, faults, sideways, too_small
from .rig import Bench, all_sent, enter, until, waiting


def refused(page: Page, text: str = "refuse 33") -> None:
    """Something that the server refuses, entered without a connection."""
    page.context.set_offline(True)
    enter(page, text)
    page.context.set_offline(False)
    all_sent(page)


def test_it_says_what_was_typed_when_and_why_it_has_not_gone(trial: Page) -> None:
    trial.context.set_offline(True)
    enter(trial, "606-418")
    trial.context.route("**/offline/token", lambda route: route.abort())
    trial.context.set_offline(False)
    trial.goto("/offline/unsent")
    card = trial.locator("[data-list] li")
    expect(card).to_have_count(1)
    expect(card).to_contain_text("Output transformer")
    expect(card).to_contain_text("606-418")
    expect(card).to_contain_text(re.compile(r"typed \d\d:\d\d"))
    expect(card).to_contain_text("not sent yet: no connection")
    expect(trial.locator("#outbox-line")).to_have_attribute("href", "/offline/unsent")


def test_what_was_refused_is_mended_and_goes(trial: Page, server: Bench, dossier: str) -> None:
    refused(trial)
    (before,) = waiting(trial)
    trial.goto("/offline/unsent")
    expect(trial.locator("[data-list] .aside")).to_have_text(before["sentence"])
    trial.get_by_role("button", name="Mend").click()
    trial.get_by_label("Code").fill("606-418")
    trial.get_by_role("button", name="Send it so").click()
    expect(trial.locator("[data-list] li")).to_have_count(0)
    (event,) = server.entered(dossier)
    assert event.data["row"]["text"] == "606-418"
    assert event.typed == before["typed"]
    assert event.key != before["key"]


def test_throwing_away_asks_first(trial: Page, server: Bench, dossier: str) -> None:
    refused(trial)
    trial.goto("/offline/unsent")
    for answer, left in (("Keep it", 1), ("Throw it away", 0)):
        trial.get_by_role("button", name="Throw away").click()
        expect(trial.locator("[data-what]")).to_have_text("Output transformer · refuse 33")
        trial.get_by_role("button", name=answer).click()
        expect(trial.locator("[data-list] li")).to_have_count(left)
    assert waiting(trial) == []
    assert server.texts(dossier) == []


def test_what_was_refused_and_then_entered_rightly_needs_no_look(
    trial: Page, server: Bench, dossier: str
) -> None:
    for text, line in (("refuse 33", "1 needs a look"), ("606-418", "all sent")):
        trial.fill("#text", text)
        trial.press("#text", "Enter")
        expect(trial.locator("#outbox-line")).to_have_text(line)
    assert server.texts(dossier) == ["606-418"]


def test_an_empty_form_refused_leaves_nothing_to_look_at(trial: Page) -> None:
    trial.evaluate("document.getElementById('text').type = 'hidden'")
    trial.evaluate("document.getElementById('text').value = 'refuse nothing typed'")
    trial.evaluate("document.getElementById('live').requestSubmit()")
    trial.get_by_text("refuse nothing typed is no code").first.wait_for()
    until(trial, "endbell.outbox.all().then(all => all.length === 0)")


def test_what_is_typed_and_not_entered_is_there_again_after_a_reload(trial: Page) -> None:
    trial.locator("#text").press_sequentially("606-4")
    until(
        trial,
        "endbell.idb.read(['drafts'], (s, give) => endbell.idb.then(s.drafts.getAll(), give))"
        ".then(all => all[0]?.values[0][1] === '606-4')",
    )
    trial.reload()
    expect(trial.locator("#text")).to_have_value("606-4")
    expect(trial.locator("#live .draft-said")).to_contain_text("not entered yet")


@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "light"), (PHONE, "dark"), (DESK, "dark")])
def test_everybody_can_read_it(
    browser: Browser, server: Bench, dossier: str, size: tuple[int, int], scheme: str
) -> None:
    context = context_at(browser, server, size, scheme=scheme)  # pyright: ignore
    page = context.new_page()
    page.goto(f"/dossiers/{dossier}/trial")
    refused(page)
    page.goto("/offline/unsent")
    page.get_by_role("button", name="Mend").click()
    assert faults(page) == []
    assert too_small(page, 44 if size == PHONE else 24) == []
    assert sideways(page) <= 0
    context.close()


def test_the_page_of_no_connection_can_be_read_by_everybody(trial: Page) -> None:
    trial.goto("/offline")
    assert faults(trial) == []
    assert too_small(trial, 44) == []
