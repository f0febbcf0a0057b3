"""Makes docs/pictures/workbench-*.png: the whole job at one amp, done in a real Chromium.

``python tools/workbench_pictures.py [FOLDER]`` starts a server of its own, does the job at a desk
by day and on a phone at night (and the other way round with ``--both``, for looking), and keeps a
picture of each station, its colours reduced so that the docs stay small.
"""

from __future__ import annotations

import argparse
import io
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, expect

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.chromium import chromium  # noqa: E402
from tests.web.browser import DESK, PHONE, Scheme, context_at  # noqa: E402
from tests.web.job import CODE, Hand, back, front  # noqa: E402
from tests.web.running import Running, running  # noqa: E402

FOLDER = ROOT / "docs" / "pictures"
SIZES = {"desk": DESK, "phone": PHONE}
COLOURS = 48
KEPT = {
    "desk": ("booked", "typed", "dossier", "next", "why", "shelf", "what-if"),
    "phone": ("book-in", "dossier", "wrong-week", "caution", "typed"),
}
"""Stations of which the docs have a picture."""


def small(picture: bytes) -> bytes:
    """The same with fewer colours."""
    out = io.BytesIO()
    drawn = Image.open(io.BytesIO(picture)).convert("RGB")
    drawn.quantize(COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def job(
    browser: Browser, server: Running, size: str, scheme: Scheme, folder: Path, every: bool
) -> None:
    """The whole job; a picture at each station."""

    def seen(name: str, page: Page) -> None:
        if not every and name not in KEPT[size]:
            return
        of = f"workbench-{size}-{name}" + (f"-{scheme}" if every else "")
        page.evaluate("document.getAnimations().forEach(a => a.finish())")
        (folder / f"{of}.png").write_bytes(small(page.screenshot()))

    context = context_at(browser, server, SIZES[size], role=None, scheme=scheme)
    page = context.new_page()
    hand = Hand(page, thumb=size == "phone", seen=seen)
    hand.sign_in()
    hand.book_in()
    front(hand)
    hand.weighed()
    hand.why_this()
    back(hand)
    hand.acknowledge("Tomas Bench")
    hand.spot("pot-1")
    for code in ("992347", "992346", "992347"):
        hand.enter(code)
    hand.close()
    hand.weighed()
    page.evaluate("scrollTo(0, 0)")
    seen("dossier", page)
    say = page.locator(".wy-pick").first
    say.click()
    page.locator("#wy-h").scroll_into_view_if_needed()
    seen("why", page)
    page.locator(".tl-panel h2").scroll_into_view_if_needed()
    seen("time-line", page)
    hand.what_if()
    link = hand.share("the buyer")
    elsewhere = browser.new_context(
        viewport={"width": SIZES[size][0], "height": SIZES[size][1]}, color_scheme=scheme
    )
    reader = elsewhere.new_page()
    reader.goto(link)
    expect(reader.locator("body")).to_contain_text("Shared for reading until")
    seen("shared", reader)
    elsewhere.close()
    hand.find(CODE)
    context.close()


def main() -> None:
    """Make them all."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("folder", type=Path, nargs="?", default=FOLDER)
    asked.add_argument("--both", action="store_true", help="every station, by day and at night")
    args = asked.parse_args()
    args.folder.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as shop,
        chromium() as browser,
        running(Path(shop)) as server,
    ):
        job(browser, server, "desk", "light", args.folder, args.both)
        job(browser, server, "phone", "dark", args.folder, args.both)
        if args.both:
            job(browser, server, "desk", "dark", args.folder, every=True)
            job(browser, server, "phone", "light", args.folder, every=True)
    made = sorted(args.folder.glob("workbench-*.png"))
    print(f"{len(made)} pictures, {sum(p.stat().st_size for p in made) // 1024} KB")


if __name__ == "__main__":
    main()
