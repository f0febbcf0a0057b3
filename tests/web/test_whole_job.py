"""The whole job in a real browser over the real server: at a desk and on a phone, both databases."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect
from tests import postgres

from endbell.report.numbers import percent

from .browser import DESK, PHONE, context_at
from .job import CODE, Hand, back, front
from .running import ROOT, Running, running

STORES = ("sqlite", "postgresql")
SIZES = {"desk": DESK, "phone": PHONE}


@pytest.fixture(scope="module", params=STORES)
def shop(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Running]:
    """A server of its own for each database."""
    folder = tmp_path_factory.mktemp("shop")
    if request.param == "sqlite":
        with running(folder) as made:
            yield made
        return
    with (
        postgres.running() as server,
        postgres.database(server) as name,
        running(folder, server.url(name)) as made,
    ):
        yield made


@pytest.mark.parametrize("size", SIZES)
def test_from_booking_in_to_the_shelf(
    browser: Browser, shop: Running, size: str, tmp_path: Path
) -> None:
    context = context_at(browser, shop, SIZES[size], role=None)
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda m: said.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: said.append(str(e)))
    hand = Hand(page, thumb=size == "phone")

    hand.sign_in()
    number = hand.book_in()
    before = page.locator("#strip .st-says").inner_text()

    front(hand)
    hand.weighed()
    hand.why_this()
    sentence = back(hand)
    assert "54" in sentence and "week" in sentence
    rows = page.locator(".tl-draw:visible .tl-row")
    expect(rows).to_have_count(12)
    hand.weighed()
    assert page.locator("#strip .st-says").inner_text() != before

    hand.acknowledge("Tomas Bench")
    counted = hand.taps + hand.keys
    hand.spot("pot-1")
    hand.enter("992347")
    assert hand.taps + hand.keys - counted <= 2 + 6 + 1
    hand.enter("992346")  # Enter had gone on to the neighbour
    hand.close()
    expect(rows).to_have_count(14)
    hand.weighed()
    same_as_the_command(page, tmp_path)

    # taken back and restored
    now = page.locator("#strip .st-numbers").inner_text()
    hand.press(page.get_by_role("button", name="Undo my last entry"))
    expect(page.locator("#turned")).to_contain_text("Taken back")
    expect(rows).to_have_count(13)
    hand.press(page.get_by_role("button", name="Redo", exact=True))
    expect(page.locator("#turned")).to_contain_text("Restored")
    expect(rows).to_have_count(14)
    expect(page.locator("#strip .st-numbers")).to_have_text(now, use_inner_text=True)

    hand.what_if()
    tag = page.get_by_role("link", name="Tag to print (PDF)").get_attribute("href")
    printed = context.request.get(tag or "")
    assert printed.headers["content-type"] == "application/pdf"
    assert printed.body().startswith(b"%PDF-")

    link = hand.share("the buyer")
    elsewhere = browser.new_context(viewport={"width": 1280, "height": 800})
    reader = elsewhere.new_page()
    reader.goto(link)
    expect(reader.locator("body")).to_contain_text(page_says(shop, number, page))
    expect(reader.locator("body")).to_contain_text("Shared for reading until")
    assert "Halloran" not in reader.locator("body").inner_text()
    reader.goto(f"{shop.address}/dossiers")
    expect(reader).to_have_url(re.compile("/login"))
    elsewhere.close()

    hand.find(CODE)
    found = page.locator("#list .number-cell a")
    expect(found.filter(has_text=number)).to_have_count(1)
    hand.press(found.filter(has_text=number))
    expect(page.locator(".d-number")).to_have_text(number)
    assert said == []
    context.close()
    photos = list((shop.folder / "photos").rglob("*.jpg"))
    assert len(photos) == 3


def page_says(shop: Running, number: str, page: Page) -> str:
    """The verdict's first words as the dossier's page has them."""
    page.goto(page.get_by_role("link", name=f"Back to {number}").get_attribute("href") or "")
    expect(page.locator("#strip .st-says")).to_be_visible()
    return page.locator("#strip .st-says").inner_text()


def same_as_the_command(page: Page, folder: Path) -> None:
    """The strip, the reasons and the time line are those of ``endbell weigh`` of the file."""
    with page.expect_download() as kept:
        page.get_by_role("link", name="Dossier file").click()
    file = folder / "dossier.toml"
    kept.value.save_as(file)
    done = subprocess.run(
        [sys.executable, "-m", "endbell", "weigh", str(file), "--json"],
        capture_output=True,
        text=True,
        check=True,
        cwd=folder,
        env={"PYTHONPATH": str(ROOT / "src"), "OPENBLAS_NUM_THREADS": "1", "PATH": ""},
    )
    verdict: dict[str, Any] = json.loads(done.stdout)
    page.locator(".st-years summary").click()
    years = page.locator(".st-years tbody tr")
    shown = {row.split("\t")[0]: row.split("\t")[1] for row in years.all_inner_texts()}
    assert shown == {y: percent(verdict["build"]["years"][y]) for y in shown}
    assert sum(verdict["build"]["years"][y] for y in shown) > 0.95
    said = page.locator(".wy-says .wy-pick, .wy-says .wy-plain").all_inner_texts()
    assert said == [word["text"] for word in verdict["words"]]
    parts = page.locator(".pt-table tbody tr")
    assert parts.count() == len(verdict["parts"])
    for part, judged in verdict["parts"].items():
        row = parts.filter(has=page.get_by_role("link", name=part, exact=True))
        assert judged["word"] in row.inner_text(), part
    drawn = page.locator(".tl-draw:visible .tl-row")
    texts = [mark["text"] for mark in verdict["marks"] if mark["text"]]
    everything = " ".join(drawn.all_text_contents())
    assert all(text in everything for text in texts), (texts, everything)
