"""A real Chromium at the sizes of a phone and a desk, and the judge of accessibility."""

from __future__ import annotations

from typing import Any, Literal

from playwright.sync_api import Browser, BrowserContext, Page
from tests.chromium import AXE

from .running import Running

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
DESK, PHONE = (1280, 800), (360, 780)
Scheme = Literal["light", "dark"]


def context_at(
    browser: Browser,
    server: Running,
    size: tuple[int, int] = DESK,
    role: str | None = "technician",
    scheme: Scheme = "light",
    *,
    ahead: bool = True,
) -> BrowserContext:
    """A browser of its own (cookies, storage), signed in as ``role``; None: nobody.

    ``ahead`` False: without the service worker, which may answer in the server's place.
    """
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme=scheme,
        has_touch=size == PHONE,
        is_mobile=size == PHONE,
        base_url=server.address,
        service_workers="allow" if ahead else "block",
    )
    context.set_default_timeout(30_000)  # a busy machine is slow, not wrong
    if role is not None:
        name, value = server.cookie(role)
        context.add_cookies([{"name": name, "value": value, "url": server.address}])
    return context


def faults(page: Page) -> list[tuple[str, list[str]]]:
    """What axe finds wrong: the rule and where."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found: list[dict[str, Any]] = page.evaluate(
        "async tags => (await axe.run(document, {runOnly: tags})).violations", TAGS
    )
    return [(v["id"], [n["html"][:160] for n in v["nodes"][:4]]) for v in found]


def too_small(page: Page, least: int) -> list[str]:
    """Buttons, links and fields smaller than ``least`` px; links within a sentence may be."""
    return page.evaluate(
        """least => [...document.querySelectorAll('a, button, input, select, summary')]
             .filter(e => !e.closest('p, li, td') || e.matches('button, .button, input, select'))
             .filter(e => e.type !== 'hidden' && !e.matches('.skip, .hide'))
             .map(e => [e, (e.closest('label') ?? e).getBoundingClientRect()])
             .filter(([e, r]) => r.width > 0 && (r.height < least || r.width < least))
             .map(([e]) => e.outerHTML.slice(0, 120))""",
        least,
    )


def sideways(page: Page) -> int:
    """By how many px the page is wider than its window."""
    return page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
