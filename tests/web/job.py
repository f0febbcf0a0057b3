"""The whole job at one amp, done by hand in a real browser: from signing in to the shelf.

What is tapped and typed is counted, and ``seen`` is called at each station with its name, so that
the same hand makes the pictures of the docs.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import dataclass

from PIL import Image, ImageDraw
from playwright.sync_api import Locator, Page, expect

from .running import NAMES, PASSWORD

expect.set_options(timeout=20_000)  # a busy machine is slow, not wrong

Seen = Callable[[str, Page], None]
CLAIM = "all original 1964, one owner"
WHOSE = "A. Halloran"
CODE, WRONG = "995352", "995354"
"""The loudspeaker's: source 995, 1953 or 1963, week 52; no year has a week 54."""


def nothing(name: str, page: Page) -> None:
    """Where no picture is wanted."""


@dataclass
class Hand:
    """One at the amp.  ``thumb``: it taps the pad on the glass, else it types on a keyboard."""

    page: Page
    thumb: bool
    seen: Seen = nothing
    taps: int = 0
    keys: int = 0

    def press(self, what: Locator) -> None:
        """A tap or a click."""
        self.taps += 1
        if self.thumb:
            what.tap()
        else:
            what.click()

    def type(self, text: str) -> None:
        """Into the open field: key by key."""
        place = self.page.locator("#entry [data-field]")
        expect(place).to_be_focused()
        for letter in text:
            key = self.page.locator(f'#entry .pad [data-key="{letter}"]')
            if self.thumb and key.count():
                self.keys += 1
                key.tap()
            else:
                self.keys += 1
                self.page.keyboard.type(letter)
        expect(place).to_have_value(re.compile(rf"{re.escape(text)}$"))

    # ---- the stations

    def sign_in(self) -> None:
        page = self.page
        page.goto("/")
        page.get_by_label("Name").fill(NAMES["technician"])
        page.get_by_label("Password").fill(PASSWORD)
        self.seen("sign-in", page)
        self.press(page.get_by_role("button", name="Sign in"))
        expect(page.get_by_role("heading", name="Dossiers", exact=True)).to_be_visible()

    def book_in(self) -> str:
        """A photo and what is said of it; the number it was given."""
        page = self.page
        self.press(page.get_by_role("link", name="Book in", exact=True).first)
        page.locator("input[name=photo]").set_input_files(photo("amp.jpg", "front of the amp"))
        page.get_by_label("What it is said to be").fill(CLAIM)
        self.press(page.locator(".b-more summary"))
        page.get_by_label("Model").select_option(label="Lantern 20 Reverb")
        page.get_by_label("Built").fill("1964")
        page.get_by_label("Whose it is").fill(WHOSE)
        page.get_by_label("Why it is here").fill("to be sold")
        self.press(page.locator(".b-purpose label", has_text="sell").first)
        number = page.get_by_label("Number").input_value()
        self.seen("book-in", page)
        self.press(page.get_by_role("button", name="Book in"))
        expect(page.locator(".d-booked")).to_contain_text(f"Booked in as {number}")
        expect(page.locator("#photos img")).to_have_count(1)
        self.weighed()
        self.seen("booked", page)
        return number

    def weighed(self) -> None:
        """Until the strip and every panel show the version that the amp stands at."""
        page = self.page
        expect(page.locator("#strip .st")).to_be_visible()
        expect(page.locator("[data-panel]")).to_have_count(3)
        expect(page.locator(".weighing:visible")).to_have_count(0)
        version = page.locator("#strip .st").get_attribute("data-version") or ""
        for panel in ("timeline", "next", "why"):
            at = page.locator(f"[data-panel={panel}]")
            expect(at).to_have_attribute("data-version", version)

    def side(self, name: str) -> None:
        """Turn the amp."""
        self.press(self.page.locator(f"#tab-{name}"))
        expect(self.page.locator(f"#amp[data-view={name}]")).to_be_visible()

    def spot(self, part: str) -> None:
        """Tap a spot of the drawing: its sheet comes."""
        self.press(self.page.locator(f'.amp [data-spot="{part}"] .spot-hit').first)
        expect(self.page.locator("#sheet-title")).to_contain_text(part)

    def look(self, title: str) -> None:
        """Choose what to look at on a part, where it isn't the one that is offered."""
        chip = self.page.locator(".e-looks .chip", has_text=title).first
        if chip.get_attribute("aria-current") is None:
            self.press(chip)
            expect(chip).to_have_attribute("aria-current", "true")

    def choose(self, shows: str) -> None:
        """One of the forms that a feature can have, then Done."""
        self.press(self.page.locator(".e-choices .choice", has_text=shows).first)
        self.done()

    def enter(self, text: str) -> None:
        """Type a code and finish it, by the pad's Done or by Enter."""
        self.type(text)
        self.done()

    def done(self) -> None:
        """Finish what is typed or chosen; what comes next is another sheet, or none."""
        before = self.page.locator("#entry [name=key]").input_value()
        done = self.page.locator("#entry [data-done]")
        if self.thumb or not self.page.locator("#entry [data-field]").count():
            self.press(done)
        else:
            self.keys += 1
            self.page.keyboard.press("Enter")
        self.gone(before)

    def mend(self, wrong: str, right: str) -> str:
        """Take back the end of what is typed and type it anew; what was said of the wrong one."""
        said = self.page.locator("#meaning .means-misfit")
        expect(said).to_be_visible()
        sentence = said.inner_text()
        self.seen("wrong-week", self.page)
        for _ in wrong:
            back = self.page.locator('#entry .pad [data-does="back"]')
            if self.thumb:
                back.tap()
            else:
                self.page.keyboard.press("Backspace")
        self.type(right)
        expect(said).to_have_count(0)
        return sentence

    def answer(self, words: str) -> None:
        """Nothing to type: illegible, nothing there, not possible."""
        before = self.page.locator("#entry [name=key]").input_value()
        self.press(self.page.locator(".e-answers button", has_text=words))
        self.gone(before)

    def gone(self, key: str) -> None:
        """Until the sheet of that entry has made way: for the next one, or for the amp."""
        self.page.wait_for_function(
            """key => {
              const now = document.querySelector("#entry [name=key]")?.value;
              return now ? now !== key : !document.getElementById("sheet").open;
            }""",
            arg=key,
        )

    def photograph(self, name: str, words: str) -> None:
        """With the camera of the open sheet."""
        self.page.locator("#sheet input[name=photo]").set_input_files(photo(name, words))
        expect(self.page.locator("#sheet .camera-said")).to_contain_text("1 photo kept")

    def why_this(self) -> None:
        """What is to be looked at next, and for what reason."""
        first = self.page.locator(".nx-first")
        self.press(first.locator(".nx-because summary"))
        expect(first.locator(".nx-because")).to_contain_text("bit")
        self.seen("next", self.page)

    def acknowledge(self, name: str) -> None:
        """Read the caution before the chassis and put a name to it."""
        page = self.page
        self.side("chassis")
        caution = page.get_by_role("region", name="Caution")
        expect(caution).to_contain_text("High voltage")
        expect(page.locator(".amp [data-spot]")).to_have_count(0)
        self.seen("caution", page)
        caution.get_by_label("Read and understood by").fill(name)
        self.press(caution.get_by_role("button"))
        expect(page.locator(".d-read")).to_contain_text(f"Caution read by {name}")

    def what_if(self) -> None:
        """Leave a mark out, look at what it would be, come back."""
        page = self.page
        self.press(page.locator(".wy-acts a", has_text="leave this out").first)
        expect(page.locator(".wi-banner")).to_contain_text("Nothing here is recorded")
        self.seen("what-if", page)
        self.press(page.get_by_role("link", name="Back to the record"))
        self.weighed()

    def share(self, whom: str) -> str:
        """The address of a new link."""
        page = self.page
        self.press(page.get_by_role("link", name="Share", exact=True))
        page.get_by_label("For whom").fill(whom)
        self.press(page.get_by_role("button", name="Make a link"))
        expect(page.get_by_label("Address")).to_be_visible()
        self.seen("share", page)
        return page.get_by_label("Address").input_value()

    def find(self, words: str) -> None:
        """Search the shelf."""
        page = self.page
        self.press(page.get_by_role("link", name="Dossiers", exact=True).first)
        page.get_by_role("searchbox").press_sequentially(words)
        expect(page.locator("#list .count")).to_contain_text(words)
        self.seen("shelf", page)

    def close(self) -> None:
        """Put the sheet away, if one is open."""
        sheet = self.page.locator("#sheet")
        if sheet.is_visible():
            self.press(sheet.locator(".e-close"))
        expect(sheet).to_be_hidden()


def front(hand: Hand) -> None:
    """The five marks that are seen from before."""
    for part, shows in (("covering", "grey tweed"), ("cloth", "silver thread")):
        hand.spot(part)
        if part == "cloth":
            hand.photograph("cloth.jpg", "grille cloth")
        hand.choose(shows)
        hand.close()
    for part, shows in (("badge", "brass script"), ("knobs", "skirted")):
        hand.spot(part)
        hand.choose(shows)
        hand.close()
    hand.spot("faceplate")
    hand.choose("engraved script")
    hand.close()


def back(hand: Hand) -> str:
    """Seven marks with the back off; what was said of a code with a week 54."""
    hand.side("back")
    hand.spot("chart")
    hand.enter("W?")
    hand.close()
    hand.spot("sp-1")
    hand.photograph("loudspeaker.jpg", "the loudspeaker's rim")
    hand.type(WRONG)
    sentence = hand.mend(WRONG[3:], CODE[3:])
    expect(hand.page.locator("#meaning")).to_contain_text("week 52")
    expect(hand.page.locator("#strip.is-would")).to_be_visible()
    hand.seen("typed", hand.page)
    hand.done()
    hand.close()
    hand.spot("chassis")
    hand.look("serial")
    hand.enter("LR1731")
    hand.close()
    hand.spot("valve-1")
    hand.answer("Not possible")
    hand.close()
    hand.spot("back")
    hand.choose("solid ply")  # the screws come next by themselves
    expect(hand.page.locator("#entry legend").first).to_contain_text("screws")
    hand.choose("slotted")
    hand.close()
    hand.spot("tank")
    hand.look("date by hand")
    hand.enter("3/64")
    hand.close()
    return sentence


def photo(name: str, words: str) -> dict[str, object]:
    """A picture as a camera would hand it over."""
    picture = Image.new("RGB", (640, 480), "#6b5a45")
    draw = ImageDraw.Draw(picture)
    draw.rectangle((40, 60, 600, 420), outline="#d8cbb0", width=10, fill="#3c332a")
    draw.ellipse((200, 120, 440, 360), outline="#a8977c", width=14)
    draw.text((60, 430), words, fill="#f2ead9", font_size=28)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=70)
    return {"name": name, "mimeType": "image/jpeg", "buffer": out.getvalue()}
