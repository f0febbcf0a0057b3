"""The page as a person meets it: on a phone, at a desk, at night, on paper, by keyboard."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, Page
from tests.chromium import AXE, chromium

from endbell.report import page

from .cases import CASES, two_decades

PHONE, DESK = 360, 1280
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Address on disk of each case's page."""
    folder = tmp_path_factory.mktemp("pages")
    out: dict[str, str] = {}
    for name, make in CASES.items():
        case = make()
        file = folder / f"{name.replace(' ', '-')}.html"
        file.write_text(page(case.verdict, case.reference, case.dossier), encoding="utf-8")
        out[name] = file.as_uri()
    return out


def opened(
    browser: Browser, address: str, width: int, scheme: Literal["light", "dark"] = "light"
) -> Page:
    shown = browser.new_page(viewport={"width": width, "height": 800}, color_scheme=scheme)
    shown.goto(address)
    return shown


@pytest.mark.parametrize("name", sorted(CASES))
def test_nothing_has_to_be_scrolled_sideways(
    browser: Browser, pages: dict[str, str], name: str
) -> None:
    shown = opened(browser, pages[name], PHONE)
    for width in (320, PHONE, 768, DESK):
        shown.set_viewport_size({"width": width, "height": 800})
        assert shown.evaluate("document.documentElement.scrollWidth") <= width
    shown.close()


@pytest.mark.parametrize("name", ["single year", "swapped loudspeaker", "hostile", "many marks"])
def test_no_fault_of_accessibility_is_found(
    browser: Browser, pages: dict[str, str], name: str
) -> None:
    shown = opened(browser, pages[name], DESK)
    shown.evaluate(AXE.read_text(encoding="utf-8"))
    for width, scheme in ((DESK, "light"), (PHONE, "light"), (PHONE, "dark")):
        shown.set_viewport_size({"width": width, "height": 800})
        shown.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
        found: list[dict[str, Any]] = shown.evaluate(
            "async tags => (await axe.run(document, {runOnly: tags})).violations", TAGS
        )
        assert [(v["id"], [n["html"][:120] for n in v["nodes"][:3]]) for v in found] == []
    shown.close()


def test_the_page_asks_for_nothing_and_has_no_complaints(
    browser: Browser, pages: dict[str, str]
) -> None:
    shown = browser.new_page()
    asked: list[str] = []
    complaints: list[str] = []
    shown.on("request", lambda r: asked.append(r.url))
    shown.on("console", lambda m: complaints.append(m.text))
    shown.goto(pages["hostile"])
    shown.close()
    assert asked == [pages["hostile"]]
    assert complaints == []


def test_a_planted_script_does_not_run(browser: Browser, pages: dict[str, str]) -> None:
    shown = browser.new_page()
    dialogs: list[str] = []
    shown.on("dialog", lambda d: dialogs.append(d.message))
    shown.goto(pages["hostile"])
    assert shown.locator("body script, body img").count() == 0
    shown.close()
    assert dialogs == []


def test_only_one_time_line_is_shown_and_reached(browser: Browser, pages: dict[str, str]) -> None:
    for width, kind in ((PHONE, "narrow"), (DESK, "wide")):
        shown = opened(browser, pages["single year"], width)
        seen = shown.locator("svg.timeline:visible")
        assert seen.count() == 1
        assert kind in (seen.first.get_attribute("class") or "")
        shown.close()


def test_a_sentence_lights_up_its_marks_and_no_others(
    browser: Browser, pages: dict[str, str]
) -> None:
    shown = opened(browser, pages["single year"], DESK)

    def lit() -> list[str]:
        return shown.evaluate(
            """() => [...document.querySelectorAll('svg.wide .tl-row')]
                 .filter(r => getComputedStyle(r.querySelector('.tl-lit')).fill !== 'rgba(0, 0, 0, 0)')
                 .map(r => r.classList[1])"""
        )

    assert lit() == []
    shown.locator("#say-2 .pick").click()
    shown.mouse.move(0, 0)
    assert lit() == ["m2", "m3"]
    shown.close()


def test_every_tick_is_reached_by_keyboard(browser: Browser, pages: dict[str, str]) -> None:
    shown = opened(browser, pages["single year"], DESK)
    count = shown.locator("svg.wide [tabindex='0'], svg.strip [tabindex='0']").count()
    said: set[str] = set()
    for _ in range(count + 40):
        shown.keyboard.press("Tab")
        label = shown.evaluate("document.activeElement.getAttribute('aria-label') || ''")
        if "weight" in label or "set:" in label:
            said.add(label)
    assert "mark 4, sp-1, 995407: 1954 week 7, weight 5%" in said
    assert len([s for s in said if "weight" in s]) == 6
    assert len([s for s in said if "set:" in s]) == 3
    shown.close()


def test_links_are_large_enough_for_a_thumb(browser: Browser, pages: dict[str, str]) -> None:
    shown = opened(browser, pages["single year"], PHONE)
    small = shown.evaluate(
        """() => [...document.querySelectorAll('a:not(.skip)')].map(a => [a, a.getBoundingClientRect()])
             .filter(([a, r]) => r.width > 0 && r.height < 24).map(([a, r]) => a.outerHTML.slice(0, 80))"""
    )
    assert small == []
    shown.close()


def test_text_on_a_phone_is_18_pixels(browser: Browser, pages: dict[str, str]) -> None:
    shown = opened(browser, pages["single year"], PHONE)
    assert shown.evaluate("getComputedStyle(document.body).fontSize") == "18px"
    shown.close()


def test_not_knowing_is_as_large_as_knowing(browser: Browser, pages: dict[str, str]) -> None:
    sizes: set[str] = set()
    for name in ("single year", "two decades"):
        shown = opened(browser, pages[name], DESK)
        sizes.add(shown.evaluate("getComputedStyle(document.querySelector('h1')).fontSize"))
        shown.close()
    assert len(sizes) == 1


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_with_the_appendix_on_a_page_of_its_own(
    browser: Browser, tmp_path: Path, pages: dict[str, str], paper: str
) -> None:
    shown = opened(browser, pages["single year"], DESK)
    shown.emulate_media(media="print")
    assert shown.locator("svg.timeline.wide").is_visible()
    assert not shown.locator("nav").is_visible()
    for link in shown.locator("main a").all()[:5]:
        assert link.evaluate("a => getComputedStyle(a).textDecorationLine") == "none"
    breaks = shown.evaluate("getComputedStyle(document.querySelector('#appendix')).breakBefore")
    assert breaks == "page"
    printed = shown.pdf(path=str(tmp_path / "page.pdf"), format=paper)
    assert printed.count(b"/Type /Page\n") + printed.count(b"/Type /Page ") >= 3
    shown.close()


def test_a_long_time_line_is_printed_in_sheets(browser: Browser, pages: dict[str, str]) -> None:
    shown = opened(browser, pages["many marks"], DESK)
    assert shown.locator("svg.timeline:visible").count() == 1
    shown.emulate_media(media="print")
    assert shown.locator("svg.timeline:visible").count() == 2
    assert not shown.locator("svg.timeline.wide").is_visible()
    shown.close()


def test_without_a_style_sheet_the_order_still_holds(browser: Browser) -> None:
    case = two_decades()
    bare = page(case.verdict, case.reference, case.dossier)
    shown = browser.new_page(java_script_enabled=False)
    shown.set_content(bare.split("<style>")[0] + bare.split("</style>")[1])
    titles = shown.locator("h1, h2").all_inner_texts()
    assert titles[0].startswith("Cannot tell")
    assert titles[1:4] == ["What the marks say", "Time line", "The claim"]
    assert titles[-1].startswith("Appendix")
    shown.close()
