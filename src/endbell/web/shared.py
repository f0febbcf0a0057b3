"""The page that a share link shows: the report, with photos, read only, by itself."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256

from ..report.markup import Safe, el, join

STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)
META_POLICY = re.compile(r'<meta\b[^>]*http-equiv="Content-Security-Policy"[^>]*>')
FOOTER = "<footer"

OWN_STYLE = """
.shown { display: grid; gap: 1rem; padding: 0; list-style: none; }
@media (min-width: 30rem) { .shown { grid-template-columns: repeat(2, minmax(0, 1fr)); } }
@media (min-width: 64rem) { .shown { grid-template-columns: repeat(4, minmax(0, 1fr)); } }
.shown li { min-width: 0; }
.shown img { display: block; width: 100%; height: auto; border: 1px solid var(--rule); }
.shown a { display: block; }
.until { border-bottom: 1px solid var(--rule); padding: .6rem 0; margin: 0; max-width: none; }
"""

PRIVATE = {
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow, noarchive",
    "Cache-Control": "no-store",
}
"""For everything whose address is the secret."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A photo on the page: its small picture, its large one, what it shows."""

    small: str
    large: str
    words: str


def shared_page(report: str, photos: Sequence[Shown], until: str) -> tuple[str, str]:
    """The page and its content security policy.

    ``report``: as ``endbell.report.page`` makes it; ``until``: the sentence that stands above it.
    The policy allows the one style sheet, by its hash, and pictures of this server.
    """
    found = STYLE.search(report)
    if found is None or FOOTER not in report:
        raise ValueError("this is no page of the report")
    style = found[1] + OWN_STYLE
    page = META_POLICY.sub("", report, count=1)
    page = page.replace(found[0], f"<style>{style}</style>", 1)
    page = page.replace("<head>", f"<head>{el('meta', name_='robots', content='noindex')}", 1)
    above = el("aside", el("p", until, cls="until small"), aria_label="Sharing")
    page = re.sub(r"(<body[^>]*>\s*<a [^>]*>[^<]*</a>)", lambda m: m[1] + str(above), page, count=1)
    if photos:
        head, mark, tail = page.rpartition("</main>")
        page = f"{head}{_photos(photos)}{mark}{tail}"
    return page, _policy(style)


def _photos(photos: Sequence[Shown]) -> Safe:
    items = [
        el(
            "li",
            el("a", el("img", src=p.small, alt=p.words, loading="lazy"), href=p.large),
            el("span", p.words, cls="small"),
        )
        for p in photos
    ]
    return el("section", el("h2", "Photos"), el("ul", join(*items), cls="shown"), id="photos")


def _policy(style: str) -> str:
    digest = b64encode(sha256(style.encode()).digest()).decode()
    return (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src 'self'; base-uri 'none'; "
        "form-action 'none'; frame-ancestors 'none'"
    )
