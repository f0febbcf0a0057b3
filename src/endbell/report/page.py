"""The verdict as one HTML file: opens from disk, asks nothing of the network, runs no script."""

from __future__ import annotations

from base64 import b64encode
from hashlib import sha256
from importlib.resources import files

from ..chronology.verdict import Verdict
from ..dossier.types import Dossier
from ..reference.types import Reference
from . import closing, findings
from .markup import Safe, el, join
from .opening import lights, opening, sentences, timelines
from .wording import headline

CONTENTS = (
    ("words", "Words"),
    ("time-line", "Time line"),
    ("claim", "Claim"),
    ("parts", "Parts"),
    ("marks", "Marks"),
    ("conflicts", "Conflicts"),
    ("next", "Next"),
    ("appendix", "Appendix"),
)


def page(verdict: Verdict, reference: Reference, dossier: Dossier) -> str:
    """The whole verdict as a self-contained HTML page.

    Everything is inline; a content security policy forbids scripts and every outside address, and
    allows just this page's own style sheet, by its hash.
    """
    style = f"{_sheet()}\n{lights(verdict)}\n"
    head = page_head(f"{verdict.dossier}: {headline(verdict, reference).text}", style)
    body = el(
        "body",
        el("a", "Skip to the verdict", href="#main", cls="skip"),
        opening(verdict, reference, dossier),
        el(
            "nav",
            el("ul", *(el("li", el("a", t, href=f"#{i}")) for i, t in CONTENTS)),
            aria_label="Sections",
        ),
        el("main", *_sections(verdict, reference, dossier), id="main", tabindex="-1"),
        el(
            "footer",
            el("p", f"Endbell {verdict.endbell} · {verdict.dossier} · as of {verdict.as_of}"),
        ),
    )
    return f"<!DOCTYPE html>\n{el('html', head, body, lang='en-GB')}\n"


def page_head(title: str, style: str) -> Safe:
    """The head of a page that stands alone: its one style sheet in it, nothing from outside."""
    return el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", http_equiv="Content-Security-Policy", content=policy(style)),
        el("meta", name_="viewport", content="width=device-width, initial-scale=1"),
        el("meta", name_="referrer", content="no-referrer"),
        el("meta", name_="color-scheme", content="light dark"),
        el("title", title),
        Safe(f"<style>{style}</style>"),
    )


def policy(style: str) -> str:
    """The content security policy: nothing but the one style sheet with this content."""
    digest = b64encode(sha256(style.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


def _sections(verdict: Verdict, reference: Reference, dossier: Dossier) -> list[Safe]:
    found = [
        sentences(verdict),
        timelines(verdict, reference),
        findings.claim(verdict, reference),
        findings.parts(verdict, reference),
        findings.marks(verdict, reference),
        findings.deliveries(verdict),
        findings.assemblies(verdict),
        findings.conflicts(verdict),
        findings.stability(verdict),
        closing.next_checks(verdict, reference),
        closing.not_weighed(verdict),
        closing.cautions(verdict),
        closing.appendix(verdict, reference, dossier),
    ]
    return [join(s) for s in found if s is not None]


def _sheet() -> str:
    return files(__package__ or "endbell.report").joinpath("page.css").read_text(encoding="utf-8")
