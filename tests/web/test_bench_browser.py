"""The bench in a real browser: phone and desk, the keyboard, offline, other pages told at once."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from endbell.store import Change, append, new_id, state_of

from .bench_amp import (
    BY,
    LEAKAGE,
    LIMITED,
    on_bench,
    read_caution,
    readings,
    replaced,
    row,
    safe,
)
from .browser import DESK, PHONE, context_at, faults, sideways, too_small
from .running import Running


@pytest.fixture
def put(server: Running) -> Callable[..., str]:
    def made(*changes: Change) -> str:
        db = server.open()
        try:
            return on_bench(db, *changes)
        finally:
            db.close()

    return made


def values(server: Running, dossier: str) -> list[str]:
    db = server.open()
    try:
        return [str(r.row.get("value")) for r in state_of(db, dossier).bench.standing("readings")]
    finally:
        db.close()


OFF = (row("cord-kind", "2"), row("filter-volts-left", "230", "C2"))
POWERED = (*LEAKAGE, *LIMITED, row("rail-volts", "300", "A"))


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_every_state_of_the_bench_fits_and_can_be_used_by_everybody(
    size: tuple[int, int], browser: Browser, server: Running, put: Callable[..., str]
) -> None:
    states = (
        put(*readings(OFF)),
        put(*safe()),
        put(*safe(), read_caution(), *readings(POWERED), replaced()),
    )
    context = context_at(browser, server, size)
    page = context.new_page()
    for dossier in states:
        page.goto(f"/dossiers/{dossier}/bench")
        page.wait_for_selector("#bench")
        page.evaluate("document.querySelectorAll('#bench details').forEach(d => { d.open = true })")
        assert faults(page) == []
        assert sideways(page) == 0
        assert too_small(page, 44 if size == PHONE else 24) == []
    context.close()


def test_the_step_is_large_on_the_phone(phone: Page, put: Callable[..., str]) -> None:
    phone.goto(f"/dossiers/{put()}/bench")
    size = "e => parseFloat(getComputedStyle(e).fontSize)"
    assert phone.locator("#b-value").evaluate(size) >= 18
    assert phone.locator(".b-how").evaluate(size) >= 18
    box = phone.locator("#b-value").bounding_box()
    assert box is not None
    assert box["height"] >= 44


def test_a_whole_row_of_readings_by_the_keyboard_alone(
    page: Page, server: Running, put: Callable[..., str]
) -> None:
    dossier = put()
    page.goto(f"/dossiers/{dossier}/bench")
    page.locator("#b-value").focus()
    for value, then in (("3", "line-capacitor"), ("0", "filter-volts-left@C1")):
        page.keyboard.type(value)
        page.keyboard.press("Enter")
        expect(page.locator("[data-step-key]")).to_have_attribute("data-step-key", then)
        expect(page.locator("#b-value")).to_be_focused()
    page.keyboard.press("ArrowDown")
    expect(page.locator("[data-step-key]")).to_have_attribute(
        "data-step-key", "filter-volts-left@C2"
    )
    expect(page.locator("#b-value")).to_be_focused()
    assert values(server, dossier) == ["3", "0"]


def test_the_news_of_an_entry_does_not_overtake_its_answer(
    page: Page, put: Callable[..., str]
) -> None:
    page.goto(f"/dossiers/{put()}/bench")
    version = int(page.locator("#bench").get_attribute("data-version") or "")
    on_its_way: list[Route] = []
    page.route("**/bench/readings", lambda route: on_its_way.append(route))
    page.locator("#b-value").fill("3")
    page.locator("#b-value").press("Enter")
    while not on_its_way:
        page.wait_for_timeout(20)
    answer = on_its_way[0].fetch()
    expect(page.locator("#b-version")).to_have_text(str(version + 1))
    page.wait_for_timeout(500)  # long enough for a fresh copy, were one asked for
    on_its_way[0].fulfill(response=answer)
    expect(page.locator("[data-step-key]")).to_have_attribute("data-step-key", "line-capacitor")
    expect(page.locator("#b-value")).to_have_value("")


def test_numbers_run_while_a_figure_is_typed(page: Page, put: Callable[..., str]) -> None:
    page.goto(f"/dossiers/{put()}/bench?line=mains-volts")
    page.locator("#b-value").press_sequentially("242")
    expect(page.locator("#b-would")).to_contain_text("242 V")
    expect(page.locator("#b-would")).to_contain_text("What a winding gives")
    page.locator("#b-value").fill("-242")
    expect(page.locator("#b-would")).to_contain_text("probes were probably swapped")


def test_what_somebody_else_measures_comes_in_and_what_is_typed_stays(
    page: Page, server: Running, put: Callable[..., str]
) -> None:
    dossier = put()
    page.goto(f"/dossiers/{dossier}/bench")
    page.locator("#b-value").fill("3")
    expect(page.locator("[data-step-key]")).to_have_attribute("data-step-key", "cord-kind")
    db = server.open()
    append(db, dossier, readings([row("line-capacitor", "0")]), by=BY)
    db.close()
    # the server itself tells of what it records; this was recorded beside it
    page.evaluate("htmx.trigger(document.getElementById('bench'), 'bench-stale')")
    expect(page.locator("#bench")).to_have_attribute("data-version", "3")
    expect(page.locator("#b-value")).to_have_value("3")


def test_a_second_page_follows_the_first(
    browser: Browser, server: Running, page: Page, put: Callable[..., str]
) -> None:
    dossier = put()
    context = context_at(browser, server, PHONE, role="owner")
    other = context.new_page()
    other.goto(f"/dossiers/{dossier}/bench")
    expect(other.locator("[data-step-key]")).to_have_attribute("data-step-key", "cord-kind")
    page.goto(f"/dossiers/{dossier}/bench")
    page.locator("#b-value").fill("3")
    page.locator("#b-value").press("Enter")
    expect(other.locator("#bench")).to_have_attribute("data-version", re.compile("[3-9]"))
    context.close()


def test_a_reading_taken_offline_is_sent_later(
    browser: Browser, server: Running, put: Callable[..., str]
) -> None:
    dossier = put()
    context = context_at(browser, server, PHONE)
    page = context.new_page()
    page.goto(f"/dossiers/{dossier}/bench")
    page.wait_for_function("navigator.serviceWorker && window.endbell?.outbox")
    context.set_offline(True)
    page.locator("#b-value").fill("3")
    page.get_by_role("button", name="Enter", exact=True).click()
    expect(page.locator("#outbox-line")).to_contain_text("1")
    assert values(server, dossier) == []
    context.set_offline(False)
    expect(page.locator("#outbox-line")).to_contain_text("all sent")
    assert values(server, dossier) == ["3"]
    context.close()


def test_the_first_power_stands_behind_its_caution(page: Page, put: Callable[..., str]) -> None:
    page.goto(f"/dossiers/{put(*safe())}/bench")
    expect(page.get_by_role("region", name="Caution before the first power")).to_be_visible()
    assert "leakage-normal" not in page.content()
    page.get_by_role("button", name="I have read it").click()
    expect(page.locator("[data-step-key]")).to_have_attribute("data-step-key", "leakage-normal")


def test_charts_are_drawn_where_they_are_opened(page: Page, put: Callable[..., str]) -> None:
    page.goto(f"/dossiers/{put(*safe(), read_caution(), *readings(POWERED))}/bench")
    page.locator(".b-charts > summary").click()
    expect(page.locator("figure.chart").first).to_have_attribute("data-drawn", "yes")
    expect(page.locator("figure.chart svg").first).to_be_visible()


def test_sending_twice_from_one_page_enters_once(
    page: Page, server: Running, put: Callable[..., str]
) -> None:
    dossier = put()
    page.goto(f"/dossiers/{dossier}/bench")
    key = page.locator(".b-form input[name=key]").input_value()
    assert len(key) == len(new_id())
    page.locator("#b-value").fill("3")
    page.get_by_role("button", name="Enter", exact=True).dblclick()
    expect(page.locator("[data-step-key]")).not_to_have_attribute("data-step-key", "cord-kind")
    assert values(server, dossier) == ["3"]
