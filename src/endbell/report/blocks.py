"""Blocks that every section of the page is made of: sections, tables, lists, codes as typed."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ..chronology.verdict import MarkVerdict
from ..marks import Span
from .markup import Child, Safe, el, join, visible
from .numbers import ranges
from .wording import best_reading, kind_words, verbatim

LONG_WORD = 18
"""Words of more characters than this may break anywhere in a table; shorter ones stay whole."""


MANY_MARKS = 8
"""A sentence that rests on more marks than this shows them when asked."""


def section(name: str, title: str, *children: Child, note: str = "") -> Safe:
    """A section with its heading; ``name`` is its id."""
    return el(
        "section",
        el("h2", title, id=f"{name}-h"),
        el("p", note, cls="note") if note else None,
        *children,
        id=name,
        aria_labelledby=f"{name}-h",
    )


def table(
    caption: str,
    heads: Sequence[str],
    body: Sequence[Sequence[Child]],
    *,
    row_attributes: Sequence[dict[str, str]] = (),
    cls: str = "",
) -> Safe:
    """A table that turns into stacked rows on a phone; roles keep it a table for a screen reader.

    The first cell of each row is its heading.
    """
    head = el("tr", *(el("th", h, scope="col", role="columnheader") for h in heads), role="row")
    lines: list[Safe] = []
    for i, row in enumerate(body):
        first = el(
            "th",
            row[0],
            scope="row",
            role="rowheader",
            data_label=heads[0],
            cls=_long(row[0]) or None,
        )
        rest = [
            el("td", el("div", cell, cls=f"cell {_long(cell)}".strip()), role="cell", data_label=h)
            for h, cell in zip(heads[1:], row[1:], strict=True)
        ]
        more = row_attributes[i] if i < len(row_attributes) else {}
        lines.append(el("tr", first, *rest, role="row", **more))
    return el(
        "table",
        el("caption", caption),
        el("thead", head, role="rowgroup"),
        el("tbody", *lines, role="rowgroup"),
        role="table",
        cls=cls or None,
    )


def _long(cell: Child) -> str:
    """'long' if the cell holds a word that may have to break anywhere to fit the page."""
    plain = re.sub(r"<[^>]*>", " ", cell or "")
    return "long" if any(len(word) > LONG_WORD for word in plain.split()) else ""


def bullets(items: Sequence[Child], *, cls: str = "") -> Safe:
    """A plain list."""
    return el("ul", *(el("li", item) for item in items), cls=cls or None)


def mark_links(numbers: Sequence[int]) -> Safe:
    """'Rests on marks 2 3 7', each number a link to its row; many of them fold away."""
    links = [
        join(el("a", str(n), href=f"#mark-{n}", aria_label=f"mark {n}", cls="marklink"), " ")
        for n in numbers
    ]
    if len(numbers) > MANY_MARKS:
        summary = el("summary", f"Rests on {len(numbers)} marks: {ranges(numbers)}")
        return el("details", summary, el("p", *links), cls="rests")
    return el(
        "p", "Rests on mark " if len(numbers) == 1 else "Rests on marks ", *links, cls="rests"
    )


def typed(mark: MarkVerdict) -> Safe:
    """What was typed, to the letter, with the groups that hold a doubtful character underlined."""
    said = verbatim(mark.mark)
    if not said:
        return el("span", kind_words(mark.mark))
    best = best_reading(mark)
    spans = doubtful(best.spans if best is not None else (), len(said)) if mark.mark.text else []
    out: list[Child] = []
    at = 0
    for span in spans:
        out.append(visible(said[at : span.start]))
        out.append(el("span", visible(said[span.start : span.end]), cls="doubt"))
        at = span.end
    out.append(visible(said[at:]))
    code = el("code", el("bdi", *out, dir="ltr"), cls="typed")
    if not spans:
        return code
    groups = ", ".join(dict.fromkeys(span.group for span in spans))
    return join(code, el("div", f"not certain: {groups}", cls="small"))


def doubtful(spans: Sequence[Span], length: int) -> list[Span]:
    """The doubtful spans inside the text, in order, without those that overlap an earlier one."""
    out: list[Span] = []
    for span in sorted(spans, key=lambda s: (s.start, s.end)):
        after = out[-1].end if out else 0
        if span.doubtful and after <= span.start < span.end <= length:
            out.append(span)
    return out
