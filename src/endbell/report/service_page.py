"""The service report as one HTML page: opens from disk, asks nothing of the network, prints."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib.resources import files
from typing import Any

from .. import __version__
from ..bench.service import ServiceRecord
from .markup import Safe, el
from .page import page_head
from .service_words import words_of

REPLACED = ("Part", "Replaced by", "Why", "By, when", "Reads", "The old part")
CHANGES = ("Line", "Before", "After", "")
LINES = ("Line", "Value", "Judgement", "Limits and where they come from")
BAGS = ("Bag", "Part removed", "Removed", "Handed to")
SIGN = (
    "Handed over by (name, signature)",
    "Received by (name, signature)",
    "Place and day",
)
"""The lines of the custody record that are left for a pen."""

_RULE = "_" * 34


def service_page(record: ServiceRecord) -> str:
    """The whole report as a self-contained page; no script, no outside address."""
    words = words_of(record)
    style = (files("endbell.report") / "page.css").read_text(encoding="utf-8")
    head = page_head(f"Service report {words['number']}", style)
    found = [*_sections(words)]
    body = el(
        "body",
        el("a", "Skip to the report", href="#main", cls="skip"),
        el(
            "header",
            el("p", "Service report", cls="what"),
            el("h1", f"{words['number']} · {words['title']}"),
            el(
                "dl",
                *(el("div", el("dt", k), el("dd", v)) for k, v in words["facts"]),
                cls="facts",
            ),
            el("p", words["headline"], cls="beside"),
            el("p", words["says"], cls="caution"),
            cls="opening",
        ),
        el("main", *found, id="main", tabindex="-1"),
        el("footer", el("p", f"Endbell {__version__} · {words['number']}. {words['says']}")),
    )
    return f"<!DOCTYPE html>\n{el('html', head, body, lang='en-GB')}\n"


def _sections(words: dict[str, Any]) -> Iterable[Safe]:
    if words["replaced"]:
        yield _section("What was replaced", _table("Parts replaced", REPLACED, words["replaced"]))
    if words["faults"]:
        yield _section("What was found", _list(words["faults"]))
    if words["changes"]:
        table = _table("Each line before and after", CHANGES, words["changes"])
        yield _section("Before and after", table)
    stages: list[Safe] = []
    for stage in words["stages"]:
        rows = [
            [line, value, el("strong", says) if off else says, limits]
            for line, value, says, off, limits in stage["rows"]
        ]
        stages += [el("h3", stage["title"]), _table(stage["title"], LINES, rows)]
    yield _section("What was measured", *(stages or [el("p", "Nothing was measured.")]))
    if words["sources"]:
        numbered = el("ol", *(el("li", source, cls="small") for source in words["sources"]))
        yield _section("Where the limits come from", numbered)
    if words["overrides"]:
        yield _section("Let pass by name", _list(words["overrides"]))
    if words["missing"]:
        yield _section("Not measured", _list(words["missing"]))
    if words["bags"]:
        yield _custody(words)
    yield _section("Cautions", *(el("p", text, cls="caution") for text in words["cautions"]))


def _custody(words: dict[str, Any]) -> Safe:
    signing = [[text, _RULE] for text in SIGN]
    return _section(
        "Removed parts: custody record",
        el("p", words["custody"]),
        _table("Bags", BAGS, words["bags"]),
        _list(words["handed"]) if words["handed"] else None,
        _table("Signatures", ("Signed", ""), signing),
    )


def _section(title: str, *children: Safe | None) -> Safe:
    return el("section", el("h2", title), *children)


def _list(items: Iterable[str]) -> Safe:
    return el("ul", *(el("li", item) for item in items))


def _table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> Safe:
    columns = [head or "What came of it" for head in heads]
    made = (
        el("tr", el("th", row[0], scope="row"), *(el("td", cell) for cell in row[1:]))
        for row in rows
    )
    return el(
        "table",
        el("caption", caption),
        el("thead", el("tr", *(el("th", head, scope="col") for head in columns))),
        el("tbody", *made),
    )
