"""Shelf, statistics and reference as a hand meets them: keyboard, thumb, day and night."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from endbell.store import SHOP, By, Change, Database, append, new_id, state_of
from endbell.store.shop_packs import pack_file_set
from endbell.web.pack_rows import new_pack
from endbell.web.strips_kept import keep
from endbell.web.weighed import Strip

from .browser import DESK, PHONE, Scheme, context_at, faults, sideways, too_small
from .running import Running

PAGES = (
    "/dossiers?told=yes&sort=year",
    "/statistics",
    "/packs?q=knob",
    "/packs/brackwater/features/faceplate-finish",
    "/packs/shop",
    "/packs/shop/files/source_number.csv",
    "/packs/shop/feature?id=knob-shape",
)
AT_THE_PHONE = (0, 1, 5, 6)
CHARTS = ("/statistics", "/packs/brackwater/features/faceplate-finish")


@pytest.fixture(scope="module", autouse=True)
def _shelf(server: Running) -> None:
    """Six amps and a pack of the shop's own with a row at fault."""
    db = server.open()
    try:
        for n in range(6):
            amp(db, n)
        by = By("tests")
        files = new_pack("shop", "Ours", ["brackwater"])
        files["source_number.csv"] = (
            "number,name,source,confidence\n998,Halden,me,high\n99x,No,me,low\n"
        )
        append(db, SHOP, [pack_file_set("shop", *file) for file in files.items()], by=by)
    finally:
        db.close()


def amp(db: Database, n: int) -> None:
    """A dossier with a strip."""
    made, year = new_id(), 1957 + n
    opened = {
        "number": f"TRV-{n:04d}",
        "purpose": "sell",
        "packs": ["brackwater"],
        "claim": {"maker": "brackwater", "model": "lantern-20", "built": str(year)},
        "intake": {"whose": "R. Halloran" if n % 2 else "Mrs Quill", "why": "sale"},
    }
    mark = {"part": "ot", "kind": "source-date-code", "text": f"993-{year % 10}12"}
    changes = [Change("opened", opened), Change("mark-set", {"mark": new_id(), "row": mark})]
    append(db, made, changes, by=By("tests"))
    strip = Strip(
        says=f"Built in {year}", sure="settled", mode_year=year, p_mode_year=0.9, first_year=year,
        last_year=year, years=((year, 0.9),), parts={"ot": ("original", 0.9), "sp-1": ("replaced", 0.1)},
    )  # fmt: skip
    keep(db, state_of(db, made), strip)


@pytest.fixture
def quiet(page: Page) -> list[str]:
    """What the console says during the test."""
    said: list[str] = []
    page.on("console", lambda m: said.append(f"{m.type}: {m.text}"))
    page.on("pageerror", lambda e: said.append(str(e)))
    return said


def numbers(page: Page) -> list[str]:
    return page.locator("#list .number-cell a").all_inner_texts()


def here(page: Page) -> str:
    return page.locator("#list tr.here .number-cell a").inner_text()


def test_the_list_follows_what_is_typed(page: Page, quiet: list[str]) -> None:
    page.goto("/dossiers?sort=number")
    assert len(numbers(page)) == 6
    page.keyboard.press("/")
    page.keyboard.type("quill", delay=15)
    expect(page.locator("#list .number-cell a")).to_have_count(3)
    expect(page).to_have_url(re.compile(r"q=quill"))
    expect(page.locator("#q")).to_be_focused()
    page.locator("#q").fill("")
    expect(page.locator("#list .number-cell a")).to_have_count(6)
    assert quiet == []


def test_rows_are_walked_picked_and_opened_by_keyboard(page: Page, quiet: list[str]) -> None:
    page.goto("/dossiers?sort=number")
    page.keyboard.press("j")
    page.keyboard.press("j")
    assert here(page) == "TRV-0001"
    page.keyboard.press("x")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("x")
    page.keyboard.press("k")
    assert here(page) == "TRV-0001"
    expect(page.locator("#acts .how-many")).to_have_text("2 dossiers")
    # what is picked stays picked while something else is searched for
    page.keyboard.press("/")
    page.keyboard.type("0004")
    expect(page.locator("#list .number-cell a")).to_have_count(1)
    expect(page.locator("#acts .how-many")).to_have_text("2 dossiers")
    page.locator("#tag-name").fill("by keyboard")
    page.get_by_role("button", name="Tag", exact=True).click()
    page.goto("/dossiers?tag=by+keyboard&sort=number")
    assert numbers(page) == ["TRV-0001", "TRV-0002"]
    page.keyboard.press("j")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/dossiers/01[A-Z0-9]+$"))
    assert "TRV-0001" in page.content()
    assert [line for line in quiet if "error" in line.lower()] == []


def test_a_view_is_kept_from_what_is_shown(page: Page) -> None:
    page.goto("/dossiers")
    page.locator("#q").fill("halloran")
    expect(page.locator("#list .number-cell a")).to_have_count(3)
    page.locator(".keep-view summary").click()
    page.locator("#view-name").fill("Halloran's")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_role("link", name="Halloran's", exact=True)).to_have_attribute(
        "aria-current", "true"
    )
    assert len(numbers(page)) == 3


@pytest.mark.parametrize("address", CHARTS)
def test_a_chart_is_drawn_although_the_page_forbids_evaluated_code(
    page: Page, quiet: list[str], address: str
) -> None:
    page.goto(address)
    for figure in page.locator("figure.chart").all():
        expect(figure).to_have_attribute("data-drawn", "yes")
        assert figure.locator("svg path").count() > 2
    assert quiet == []


def test_a_chart_takes_the_colours_of_the_night(page: Page) -> None:
    page.goto("/statistics")
    ink = page.locator("#months svg text").first
    expect(page.locator("#months figure")).to_have_attribute("data-drawn", "yes")
    day = ink.get_attribute("fill")
    page.emulate_media(color_scheme="dark")
    expect(page.locator("#months svg text").first).not_to_have_attribute("fill", str(day))


def test_a_problem_leads_to_its_line_while_the_text_is_typed(page: Page, quiet: list[str]) -> None:
    page.goto("/packs/shop/files/source_number.csv")
    page.get_by_role("link", name="line 3").click()
    assert page.evaluate("document.getElementById('text').selectionStart") == 49
    page.keyboard.press("End")
    page.keyboard.press("Home")
    page.keyboard.press("Shift+End")
    page.keyboard.type("997,Ostrander,me,low")
    expect(page.locator("#troubles .done")).to_have_text("Every row can be used.")
    expect(page.locator("#caret")).to_contain_text("line 3")
    page.get_by_role("button", name="Record it").click()
    expect(page.locator("#troubles")).to_contain_text("As it is recorded")
    page.goto("/packs/sources/997")
    expect(page.locator("h1")).to_contain_text("Ostrander")
    assert quiet == []


def test_a_feature_is_drawn_while_its_window_is_typed(page: Page, quiet: list[str]) -> None:
    page.goto("/packs/shop/feature")
    page.locator('[name="v.0.value"]').fill("amber")
    page.locator('[name="v.0.first"]').fill("1957")
    expect(page.locator("#troubles .drawn")).to_contain_text("from 1957")
    expect(page.locator("#troubles .drawn svg.window")).to_have_count(1)
    assert quiet == []


@pytest.mark.parametrize(("size", "scheme"), [(DESK, "light"), (PHONE, "dark")])
def test_no_fault_of_accessibility_is_found(
    browser: Browser, server: Running, size: tuple[int, int], scheme: Scheme
) -> None:
    context = context_at(browser, server, size, "technician", scheme)
    shown = context.new_page()
    wrong: dict[str, object] = {}
    for address in PAGES if size == DESK else [PAGES[n] for n in AT_THE_PHONE]:
        shown.goto(address)
        shown.locator("main").wait_for()
        for figure in shown.locator("figure.chart").all():
            expect(figure).to_have_attribute("data-drawn", "yes")
        small = [
            one for one in too_small(shown, 44 if size == PHONE else 24) if "outbox" not in one
        ]
        if (found := (faults(shown), sideways(shown), small)) != ([], 0, []):
            wrong[address] = found
    context.close()
    assert wrong == {}
