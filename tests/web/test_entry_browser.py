"""Entering marks by hand: thumb on a phone, keyboard at a desk; nothing typed is lost."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from endbell.store import By, Change, DossierState, append, new_id, state_of

from .browser import DESK, PHONE, Scheme, context_at, faults, sideways, too_small
from .running import Running

expect.set_options(timeout=15_000)  # a busy machine is slow, not wrong

SIZES = {"phone": PHONE, "desk": DESK}


def amp(server: Running, *, read: bool = True) -> str:
    """An amp with nothing entered; ``read``: its caution has been acknowledged."""
    made = new_id()
    claim = {"maker": "brackwater", "model": "lantern-20", "built": "1964"}
    opened = {"number": f"TRV-{made[-8:]}", "packs": ["brackwater"], "claim": claim}
    changes = [Change("opened", opened)]
    if read:
        changes.append(Change("caution-acknowledged", {"level": "chassis-out", "name": "T"}))
    db = server.open()
    append(db, made, changes, by=By("tests", "test"))
    db.close()
    return made


def now(server: Running, dossier: str) -> DossierState:
    db = server.open()
    state = state_of(db, dossier)
    db.close()
    return state


def texts(server: Running, dossier: str) -> list[tuple[str, str]]:
    return [(str(m.row["part"]), str(m.row.get("text"))) for m in now(server, dossier).standing]


ON_BOTH = pytest.mark.parametrize("context", SIZES, indirect=True)
AT_THE_DESK = pytest.mark.parametrize("context", ["desk"], indirect=True)


@pytest.fixture
def context(
    request: pytest.FixtureRequest, browser: Browser, server: Running
) -> Iterator[BrowserContext]:
    made = context_at(browser, server, SIZES[getattr(request, "param", "phone")])
    yield made
    made.close()


def opened(context: BrowserContext, dossier: str, view: str) -> Page:
    page = context.new_page()
    page.goto(f"/dossiers/{dossier}?view={view}")
    expect(page.locator("#strip .st")).to_be_visible()
    return page


@ON_BOTH
def test_two_taps_and_the_digits(context: BrowserContext, server: Running) -> None:
    dossier = amp(server)
    page = opened(context, dossier, "chassis")
    page.locator('.amp [data-spot="pot-1"] .spot-hit').click()  # one
    expect(page.locator("#entry [data-field]")).to_be_focused()
    for digit in "992341":
        page.locator(f'.pad [data-key="{digit}"]').click()
    expect(page.locator("#meaning")).to_contain_text("week 41")
    page.locator("#entry [data-done]").click()  # and done
    expect(page.locator("#sheet-title")).to_contain_text("pot-2")  # led on to the neighbour
    expect(page.locator("#entry [data-field]")).to_be_focused()
    assert texts(server, dossier) == [("pot-1", "992341")]
    expect(page.locator("#spot-pot-1 .spot-said")).to_have_text("992341")


@AT_THE_DESK
def test_four_pots_are_four_codes_and_four_enters(context: BrowserContext, server: Running) -> None:
    dossier = amp(server)
    page = opened(context, dossier, "chassis")
    page.locator("#spot-pot-1").click()
    for n in range(1, 5):
        expect(page.locator("#sheet-title")).to_contain_text(f"pot-{n}")
        expect(page.locator("#entry [data-field]")).to_be_focused()
        page.keyboard.type(f"99234{n}")
        page.keyboard.press("Enter")
    expect(page.locator("#sheet-title")).to_contain_text("pot-5")
    assert texts(server, dossier) == [(f"pot-{n}", f"99234{n}") for n in range(1, 5)]


def test_what_can_not_be_read_is_one_tap(context: BrowserContext, server: Running) -> None:
    dossier = amp(server)
    page = opened(context, dossier, "chassis")
    page.locator("#spot-ot").click()
    page.get_by_role("button", name="Illegible").click()
    expect(page.locator("#sheet")).not_to_be_visible()
    (mark,) = now(server, dossier).standing
    assert mark.row["result"] == "illegible"


@ON_BOTH
def test_escape_closes_and_what_was_typed_is_offered_again(
    context: BrowserContext, server: Running
) -> None:
    dossier = amp(server)
    page = opened(context, dossier, "chassis")
    page.locator("#spot-ot").click()
    expect(page.locator("#entry [data-field]")).to_be_focused()
    page.keyboard.type("993-3")
    expect(page.locator("#meaning")).to_contain_text("so far")
    page.keyboard.press("Escape")
    expect(page.locator("#sheet")).not_to_be_visible()
    expect(page.locator("#spot-ot")).to_be_focused()
    page.reload()
    page.locator("#spot-ot").click()
    expect(page.locator("#entry [data-field]")).to_have_value("993-3")
    assert texts(server, dossier) == []


def test_the_strip_says_when_it_shows_what_is_only_typed(
    context: BrowserContext, server: Running
) -> None:
    page = opened(context, amp(server), "chassis")
    before = page.locator("#strip .st-says").inner_text()
    page.locator("#spot-ot").click()
    expect(page.locator("#entry [data-field]")).to_be_focused()
    page.keyboard.type("9936348")
    expect(page.locator("#strip")).to_have_class("d-verdict is-would")
    expect(page.locator("#strip .st-says")).not_to_have_text(before)
    page.keyboard.press("Escape")
    expect(page.locator("#strip .st-says")).to_have_text(before)
    expect(page.locator("#strip")).to_have_class("d-verdict")


@ON_BOTH
def test_the_keys_stay_where_they_are_while_the_meaning_changes(
    context: BrowserContext, server: Running
) -> None:
    page = opened(context, amp(server), "chassis")
    page.locator("#spot-ot").click()
    pad = page.locator("#entry .pad")
    expect(page.locator("#entry [data-field]")).to_be_focused()
    page.wait_for_timeout(300)  # the sheet has risen
    places = [pad.bounding_box()]
    for text, said in (("993-348", "week 48"), ("993-354", "Nearest"), ("99?-7?2", "Source 99?")):
        page.locator("#entry [data-field]").fill(text)
        expect(page.locator("#meaning")).to_contain_text(said)
        places.append(pad.bounding_box())
    assert places == [places[0]] * 4


def test_a_nearest_code_is_taken_by_a_tap(context: BrowserContext, server: Running) -> None:
    page = opened(context, amp(server), "chassis")
    page.locator("#spot-ot").click()
    page.locator("#entry [data-field]").fill("993-354")
    page.locator('[data-take="993-352"]').click()
    expect(page.locator("#entry [data-field]")).to_have_value("993-352")
    expect(page.locator("#meaning")).to_contain_text("week 52")


def test_the_caution_is_read_before_the_chassis_is_seen(
    context: BrowserContext, server: Running
) -> None:
    dossier = amp(server, read=False)
    page = opened(context, dossier, "chassis")
    expect(page.locator("#spot-ot")).to_have_count(0)
    page.get_by_label("Read and understood by").first.fill("T. Bench")
    page.locator("#amp .d-caution button.primary").click()
    expect(page.locator("#spot-ot")).to_be_visible()
    expect(page.locator(".d-read")).to_contain_text("Caution read by T. Bench")
    assert [a.name for a in now(server, dossier).acknowledged] == ["T. Bench"]


@AT_THE_DESK
def test_an_entry_is_worded_anew_and_withdrawn_at_its_spot(
    context: BrowserContext, server: Running
) -> None:
    dossier = amp(server)
    page = opened(context, dossier, "chassis")
    page.locator("#spot-pt").click()
    page.locator("#entry [data-field]").fill("993-348")
    page.locator("#entry [data-done]").click()
    expect(page.locator("#sheet")).not_to_be_visible()
    page.locator("#spot-pt").click()
    page.get_by_role("link", name="Change date code 993-348").click()
    expect(page.locator("#entry [data-field]")).to_have_value("993-348")
    page.locator("#entry [data-field]").fill("993-349")
    page.locator("#entry [data-done]").click()
    expect(page.locator(".e-entries")).to_contain_text("993-349")
    page.get_by_role("button", name="Withdraw date code 993-349").click()
    expect(page.locator(".e-entries")).to_have_count(0)
    assert texts(server, dossier) == []


def test_the_keyboard_alone_will_do(browser: Browser, server: Running) -> None:
    dossier = amp(server)
    context = context_at(browser, server)
    page = opened(context, dossier, "chassis")
    page.locator(".spots [data-spot]").first.focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#spot-pot-2")).to_be_focused()
    expect(page.locator('.amp .is-lit[data-spot="pot-2"]')).to_have_count(1)
    page.keyboard.press("9")  # a digit opens the sheet and goes to its field
    expect(page.locator("#entry [data-field]")).to_have_value("9")
    page.keyboard.type("92-341")
    page.locator("#entry [name=legibility]").first.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    expect(page.locator("#sheet-title")).to_contain_text("pot-3")
    assert now(server, dossier).standing[0].row["legibility"] == "worn"
    assert texts(server, dossier) == [("pot-2", "992-341")]
    context.close()


@pytest.mark.parametrize(("size", "scheme"), [("phone", "light"), ("desk", "dark")])
def test_no_fault_of_accessibility_is_found(
    browser: Browser, server: Running, size: str, scheme: Scheme
) -> None:
    dossier = amp(server)
    context = context_at(browser, server, SIZES[size], scheme=scheme)
    for view, spot in (("chassis", "ot"), ("front", "knobs")):
        page = opened(context, dossier, view)
        page.locator(f"#spot-{spot}").click()
        expect(page.locator("#entry")).to_be_visible()
        page.wait_for_timeout(300)
        assert faults(page) == []
        assert sideways(page) <= 0
        assert [
            e for e in too_small(page, 44 if size == "phone" else 24) if "key" in e or "choice" in e
        ] == []
        page.close()
    page = context.new_page()
    page.goto("/book-in")
    assert faults(page) == []
    context.close()


def caught(page: Page, held: list[Route]) -> Route:
    """The request that is held back, once it has come."""
    for _ in range(200):
        if held:
            return held[0]
        page.wait_for_timeout(50)
    raise AssertionError("nothing was asked for")


@AT_THE_DESK
def test_a_sheet_closed_while_its_entry_is_on_the_way_stays_closed(
    context: BrowserContext, server: Running
) -> None:
    dossier = amp(server)
    page = opened(context, dossier, "chassis")
    page.locator('.amp [data-spot="pot-1"] .spot-hit').click()
    expect(page.locator("#entry [data-field]")).to_be_focused()
    held: list[Route] = []
    page.route(f"**/dossiers/{dossier}/marks", lambda route: held.append(route))
    page.keyboard.type("992341")
    with page.expect_request(f"**/dossiers/{dossier}/marks"):
        page.keyboard.press("Enter")
    page.locator("#sheet [data-close]").click()
    expect(page.locator("#sheet")).not_to_be_visible()
    with page.expect_response(f"**/dossiers/{dossier}/marks"):
        caught(page, held).continue_()
    expect(page.locator('.spots [data-spot="pot-1"]')).to_contain_text("seen")
    expect(page.locator("#sheet")).not_to_be_visible()
    assert texts(server, dossier) == [("pot-1", "992341")]


def test_a_sheet_that_comes_after_the_one_before_was_closed_does_not_open(
    browser: Browser, server: Running
) -> None:
    context = context_at(browser, server, DESK, ahead=False)
    dossier = amp(server)
    page = opened(context, dossier, "chassis")
    page.locator('.spots [data-spot="pot-1"]').click()
    expect(page.locator("#entry [data-field]")).to_be_focused()
    held: list[Route] = []
    page.route("**/spots/pot-2**", lambda route: held.append(route))
    with page.expect_request("**/spots/pot-2**"):
        page.locator('.spots [data-spot="pot-2"]').click()  # while the first stands open
    page.locator("#sheet [data-close]").click()
    expect(page.locator("#sheet")).not_to_be_visible()
    with page.expect_response("**/spots/pot-2**"):
        caught(page, held).continue_()
    page.locator('.spots [data-spot="pot-3"]').click()  # what is asked for after it opens
    expect(page.locator("#entry")).to_have_attribute("data-spot", "pot-3")
    page.locator("#sheet [data-close]").click()
    expect(page.locator("#sheet")).not_to_be_visible()
    context.close()
