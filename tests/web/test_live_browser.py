"""The verdict as it moves, in a real browser: two people at one amp, the time line by keyboard."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from endbell.store import By, Change, append, new_id, state_of

from .browser import DESK, PHONE, context_at, faults, too_small
from .running import NAMES, Running

MARKS = (
    {"part": "pt", "kind": "source-date-code", "text": "993-416"},
    {"part": "ot", "kind": "source-date-code", "text": "993-418"},
    {"part": "pot-1", "kind": "source-date-code", "text": "992-411"},
    {"part": "sp-1", "kind": "source-date-code", "text": "995-7812"},
    {"part": "faceplate", "kind": "feature", "feature": "faceplate-lettering", "value": "lantern"},
)


def booked(server: Running, *, read: bool = True) -> str:
    """A dossier with five marks, one of them of another decade; ``read``: its caution was."""
    made = new_id()
    opened = {
        "number": f"TRV-{made[-6:]}",
        "packs": ["brackwater"],
        "claim": {"maker": "brackwater", "model": "lantern-20", "built": "1954"},
    }
    marks = [Change("mark-set", {"mark": new_id(), "row": row}) for row in MARKS]
    level = {"level": "chassis-out", "name": "T. Bench"}
    caution = [Change("caution-acknowledged", level)] if read else []
    db = server.open()
    append(db, made, [Change("opened", opened), *caution, *marks], by=By("tests", "bench"))
    db.close()
    return made


@pytest.fixture
def amp(server: Running) -> str:
    """A dossier of its own, for a test that changes it."""
    return booked(server)


@pytest.fixture(scope="module")
def still(server: Running) -> str:
    """A dossier that nobody changes."""
    return booked(server)


def opened(page: Page, amp: str) -> Page:
    """The page of the amp, when all of it is weighed and it listens."""
    page.goto(f"/dossiers/{amp}")
    expect(page.locator(".tl-panel .tl-row").first).to_be_attached()
    expect(page.locator(".wy-panel")).to_be_visible()
    expect(page.locator(".nx-panel")).to_be_visible()
    return page


@pytest.fixture
def beside(browser: Browser, server: Running) -> Iterator[Page]:
    """The owner's page, at a desk elsewhere."""
    context = context_at(browser, server, role="owner")
    yield context.new_page()
    context.close()


def test_two_people_at_one_amp_see_each_others_entries(
    page: Page, beside: Page, amp: str, server: Running
) -> None:
    opened(page, amp)
    opened(beside, amp)
    expect(page.locator(".d-here")).to_contain_text(NAMES["owner"])
    expect(beside.locator(".d-here")).to_contain_text(NAMES["technician"])
    before = beside.locator("#strip .st").get_attribute("data-version")
    said = beside.locator("#strip").inner_text()
    enter(page, amp, {"part": "choke", "kind": "source-date-code", "text": "993-415"})
    expect(beside.locator("#strip .st")).not_to_have_attribute("data-version", before or "")
    row = beside.locator(".tl-is-wide .tl-row", has_text="993-415")
    expect(row).to_have_count(1)
    expect(page.locator(".tl-is-wide .tl-row", has_text="993-415")).to_have_count(1)
    # and back: what the other takes back is gone here
    withdraw(beside, amp, server, "993-415")
    expect(page.locator(".tl-is-wide .tl-row", has_text="993-415")).to_have_count(0)
    expect(page.locator("#strip .st-says")).to_have_text(said.splitlines()[0])
    beside.close()
    expect(page.locator(".d-here")).not_to_contain_text(NAMES["owner"])


def enter(page: Page, amp: str, row: dict[str, str]) -> None:
    """An entry, sent as the entry sheet sends it."""
    answer = page.evaluate(
        """async ([amp, row]) => {
          const headers = JSON.parse(document.body.getAttribute("hx-headers"));
          headers["HX-Request"] = "true";
          const body = new URLSearchParams(row);
          const sent = await fetch(`/dossiers/${amp}/marks`, {method: "POST", headers, body});
          return sent.status;
        }""",
        [amp, row],
    )
    assert answer == 200


def withdraw(page: Page, amp: str, server: Running, text: str) -> None:
    """The entry of that text, taken back from the history."""
    db = server.open()
    n = next(m.n for m in state_of(db, amp).standing if m.row.get("text") == text)
    db.close()
    answer = page.evaluate(
        """async ([amp, n]) => {
          const headers = JSON.parse(document.body.getAttribute("hx-headers"));
          headers["HX-Request"] = "true";
          const body = new URLSearchParams({n});
          return (await fetch(`/dossiers/${amp}/undo`, {method: "POST", headers, body})).status;
        }""",
        [amp, n],
    )
    assert answer == 200


def test_the_keyboard_reaches_each_mark_and_each_of_its_readings(page: Page, still: str) -> None:
    opened(page, still)
    heads = page.locator(".tl-is-wide .tl-row a")
    assert heads.count() == len(MARKS)
    # by Tab: one stop a mark, in order
    heads.first.focus()
    reached = [named(page)]
    for _ in range(len(MARKS) - 1):
        page.keyboard.press("Tab")
        reached.append(named(page))
    assert len(set(reached)) == len(MARKS)
    assert all("mark " in name for name in reached)
    # by arrows: down to the next mark, right to what it can mean
    heads.first.focus()
    page.keyboard.press("ArrowDown")
    assert named(page) == reached[1]
    page.keyboard.press("ArrowRight")
    said = named(page)
    assert "weight" in said or "fitted" in said
    box = page.locator(".tl-panel .tl-hover")
    expect(box).to_have_text(said)
    page.keyboard.press("Escape")
    expect(box).to_be_hidden()
    page.keyboard.press("End")
    assert named(page) == reached[-1]
    # Enter opens the mark with its entry; closing goes back to where one was
    page.keyboard.press("Enter")
    card = page.locator(".tl-card.open")
    expect(card).to_be_visible()
    expect(card.get_by_text("Open the entry")).to_be_visible()
    card.get_by_text("Close").click()
    expect(card).to_have_count(0)
    assert named(page) == reached[-1]


def named(page: Page) -> str:
    """What a screen reader calls the thing with the focus."""
    return str(page.evaluate("document.activeElement.getAttribute('aria-label') ?? ''"))


def test_a_sentence_lights_up_its_marks_and_a_mark_its_sentences(page: Page, still: str) -> None:
    opened(page, still)
    say = page.locator(".wy-say[data-marks]").first
    numbers = (say.get_attribute("data-marks") or "").split()
    say.locator(".wy-pick").click()
    for n in numbers:
        expect(page.locator(f".tl-is-wide .m{n}.lit")).to_have_count(1)
    assert page.locator(".tl-is-wide .tl-row.lit").count() == len(numbers)
    expect(say.locator(".wy-pick")).to_have_attribute("aria-pressed", "true")
    say.locator(".wy-pick").click()
    assert page.locator(".lit").count() == 0
    page.locator(f".tl-is-wide .m{numbers[0]} a").click()
    lit = page.locator(".wy-say.lit")
    assert lit.count() >= 1
    for i in range(lit.count()):
        assert numbers[0] in (lit.nth(i).get_attribute("data-marks") or "").split()


def test_what_was_lit_and_unfolded_stays_so_when_the_verdict_moves(
    page: Page, beside: Page, amp: str
) -> None:
    opened(page, amp)
    opened(beside, amp)
    page.locator(".st-years summary").click()
    page.locator(".wy-say[data-marks] .wy-pick").first.click()
    page.locator(".nx-because summary").click()
    enter(beside, amp, {"part": "choke", "kind": "source-date-code", "text": "993-415"})
    expect(page.locator(".tl-is-wide .tl-row", has_text="993-415")).to_have_count(1)
    expect(page.locator(".st-years")).to_have_attribute("open", "")
    expect(page.locator(".nx-because")).to_have_attribute("open", "")
    assert page.locator(".tl-is-wide .tl-row.lit").count() > 0


def test_a_touch_on_a_reading_says_what_it_is(phone: Page, still: str) -> None:
    opened(phone, still)
    tick = phone.locator(".tl-is-narrow .tl-row .tl-tick").nth(1)
    tick.scroll_into_view_if_needed()
    tick.tap(force=True)
    expect(phone.locator(".tl-panel .tl-hover")).to_have_text(
        tick.get_attribute("aria-label") or ""
    )
    phone.locator(".tl-is-narrow .tl-row a").first.tap()
    expect(phone.locator(".tl-card.open")).to_be_visible()


def test_a_check_that_cannot_be_done_makes_the_next_appear(page: Page, amp: str) -> None:
    opened(page, amp)
    title = page.locator(".nx-first h3")
    before = title.inner_text()
    page.locator(".nx-first .nx-cannot > summary").click()
    page.locator(".nx-first input[name=reason]").fill("covered by a sticker")
    page.locator(".nx-first .nx-answer button").click()
    expect(title).not_to_have_text(before)
    expect(page.locator(".nx-answered summary")).to_contain_text("1 answered")


def test_behind_the_caution_the_checks_of_the_chassis_appear(page: Page, server: Running) -> None:
    opened(page, booked(server, read=False))
    hidden = page.locator(".nx-hidden").first
    hidden.locator("summary").click()
    expect(hidden).to_contain_text("High voltage")
    hidden.get_by_role("button").click()
    expect(page.locator(".nx-panel")).not_to_contain_text("with the chassis out, behind a caution")
    page.locator(".nx-rest > summary").click()
    expect(page.locator(".nx-rest")).to_contain_text("chassis out")


def test_ctrl_z_takes_back_ones_own_last_entry(page: Page, amp: str) -> None:
    opened(page, amp)
    enter(page, amp, {"part": "choke", "kind": "source-date-code", "text": "993-415"})
    row = page.locator(".tl-is-wide .tl-row", has_text="993-415")
    expect(row).to_have_count(1)
    page.keyboard.press("Control+z")
    expect(row).to_have_count(0)
    expect(page.locator("#turned")).to_contain_text("Taken back")
    page.keyboard.press("Control+Shift+z")
    expect(row).to_have_count(1)


def test_a_what_if_is_played_without_leaving_a_trace(
    page: Page, still: str, server: Running
) -> None:
    db = server.open()
    version = state_of(db, still).version
    opened(page, still)
    page.locator(".wy-acts a", has_text="leave this out").first.click()
    expect(page.locator(".wi-banner")).to_contain_text("Nothing here is recorded")
    first = page.locator(".wi-banner").inner_text()
    page.locator(".wi-form input:not(:checked)").first.check()
    expect(page.locator(".wi-banner")).not_to_have_text(first)
    assert page.url.count("without=") == 2
    assert page.locator(".wi-form input:checked").count() == 2
    page.get_by_role("link", name="Back to the record").click()
    page.wait_for_url(f"**/dossiers/{still}")
    assert state_of(db, still).version == version
    db.close()


@pytest.mark.parametrize(
    ("size", "scheme"), [(DESK, "light"), (PHONE, "dark")], ids=["desk", "phone"]
)
def test_axe_finds_nothing(
    browser: Browser, server: Running, still: str, size: tuple[int, int], scheme: str
) -> None:
    context = context_at(browser, server, size, scheme=scheme)  # type: ignore[arg-type]
    page = opened(context.new_page(), still)
    page.evaluate("for (const fold of document.querySelectorAll('details')) fold.open = true")
    page.locator(".tl-draw:visible .tl-row a").first.click()
    assert faults(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    small = too_small(page, 44 if size == PHONE else 24)
    assert [s for s in small if any(m in s for m in ("tl-", "nx-", "wy-", "st-"))] == []
    mark = page.locator(".wy-acts a").first.get_attribute("href") or ""
    for path in (mark, f"/dossiers/{still}/history"):
        page.goto(path)
        assert faults(page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], path
    context.close()


def test_a_page_that_nobody_sees_leaves_the_room_and_catches_up_when_it_is_seen(
    page: Page, beside: Page, amp: str
) -> None:
    opened(page, amp)
    opened(beside, amp)
    expect(beside.locator(".d-here")).to_contain_text(NAMES["technician"])
    see(page, "hidden")
    expect(beside.locator(".d-here")).not_to_contain_text(NAMES["technician"], timeout=10_000)
    enter(beside, amp, {"part": "choke", "kind": "source-date-code", "text": "993-415"})
    expect(beside.locator(".tl-is-wide .tl-row", has_text="993-415")).to_have_count(1)
    row = page.locator(".tl-is-wide .tl-row", has_text="993-415")
    assert row.count() == 0
    see(page, "visible")
    expect(row).to_have_count(1)


def see(page: Page, state: str) -> None:
    """Have the page believe that it is hidden or visible."""
    page.evaluate(
        """state => {
          Object.defineProperty(document, "visibilityState", {value: state, configurable: true});
          document.dispatchEvent(new Event("visibilitychange"));
        }""",
        state,
    )


def test_a_page_that_was_away_catches_up(page: Page, amp: str, server: Running) -> None:
    opened(page, amp)
    server.restart()
    db = server.open()
    row = {"part": "choke", "kind": "source-date-code", "text": "993-415"}
    append(db, amp, [Change("mark-set", {"mark": new_id(), "row": row})], by=By("tests"))
    db.close()
    row_there = page.locator(".tl-is-wide .tl-row", has_text="993-415")
    expect(row_there).to_have_count(1, timeout=15_000)
