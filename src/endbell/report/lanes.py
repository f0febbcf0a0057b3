"""The rows of the time line as drawn: assemblies, parts and marks, one under the other."""

from __future__ import annotations

from dataclasses import dataclass

from ..reference.types import Reference
from .cells import cut
from .markup import Safe, el, join, visible
from .numbers import percent
from .rows import AssemblyRows, MarkRow, PartRows, part_title
from .shapes import INK, RULE, SOFT, label, line, sign, span, tick
from .wording import kind_words, origin_words, tick_words, verbatim


@dataclass(frozen=True, slots=True)
class Layout:
    """Where things stand: the plot from ``x0`` to ``x1``, a row's words at ``says_x``.

    ``says_x`` None: the words stand above the row.
    """

    width: float
    x0: float
    x1: float
    says_x: float | None
    text_chars: int
    title_chars: int
    gap: float
    least: float
    most: int
    year_room: float


@dataclass(frozen=True, slots=True)
class Lanes:
    """Rows drawn below each other on one sheet; ``bottom``: where they end."""

    drawn: tuple[Safe, ...]
    bottom: float


def sheets(
    groups: tuple[AssemblyRows, ...],
    layout: Layout,
    reference: Reference | None,
    *,
    top: float,
    links: bool,
    limit: float = float("inf"),
) -> list[Lanes]:
    """All rows from ``top`` down; a new sheet wherever a part would reach below ``limit``."""
    out: list[Lanes] = []
    drawn: list[Safe] = []
    y = top
    for group in groups:
        title = group_title(group)
        blocks: list[Safe] = []
        y, start = y + 24, y
        for part in group.parts:
            block, end = _part(part, y, layout, reference, links)
            if end > limit and (drawn or blocks):
                if blocks:
                    drawn.append(_group(title, start, blocks))
                    title = f"{group_title(group)}, continued"
                out.append(Lanes(tuple(drawn), y))
                drawn, blocks, start = [], [], top
                block, end = _part(part, top + 24, layout, reference, links)
            blocks.append(block)
            y = end
        drawn.append(_group(title, start, blocks))
        y += 6
    return [*out, Lanes(tuple(drawn), y)]


def group_title(group: AssemblyRows) -> str:
    """'Cabinet (another amp's: 2%)'."""
    title = group.id.capitalize()
    if group.married is not None:
        title += f" (another amp's: {percent(group.married.married)})"
    return title


def _group(title: str, y: float, blocks: list[Safe]) -> Safe:
    head = label(title, 4, y + 17, "tl-assembly", font_weight="bold", fill=SOFT)
    return el("g", head, *blocks, role="group", aria_label=title, cls="tl-group")


def _part(
    part: PartRows, y: float, layout: Layout, reference: Reference | None, links: bool
) -> tuple[Safe, float]:
    verdict = part.part
    title = part_title(part, reference)
    says = origin_words(verdict) if verdict is not None else "not judged"
    out = [line(4, y, layout.width - 4, y, RULE, "tl-rule")]
    out.append(sign(verdict.word if verdict is not None else "", 13, y + 15))
    out.append(
        label(cut(visible(title), layout.title_chars), 28, y + 19, "tl-part", font_weight="600")
    )
    if layout.says_x is not None:
        out.append(label(says, layout.says_x, y + 19, "tl-says"))
        y += 26
    else:
        out.append(label(says, 28, y + 36, "tl-says"))
        y += 44
    for row in part.marks:
        block, y = _mark(row, y, layout, verdict.word if verdict is not None else "", links)
        out.append(block)
    return el("g", *out, role="group", aria_label=f"{title}: {says}"), y


def _mark(row: MarkRow, y: float, layout: Layout, word: str, links: bool) -> tuple[Safe, float]:
    mark = row.mark.mark
    shown = visible(verbatim(mark)) or kind_words(mark)
    lines = [row.says, *row.outside]
    number = label(str(mark.n), 46, y + 17, "tl-n", text_anchor="end", fill=SOFT)
    short = cut(shown, layout.text_chars)
    text = label(short, 56, y + 17, "tl-text", font_family="monospace")
    target = el(
        "rect",
        x=4.0,
        y=y,
        width=layout.x0 - 8 if layout.says_x else layout.width - 8,
        height=25.0,
        fill="none",
        pointer_events="all",
    )
    head = join(target, text)
    said = f"mark {mark.n}, {mark.part}, {shown}: {'; '.join(lines)}"
    if short != shown:  # a link's name has to hold what is seen of it
        said = f"{short} {said}"
    if links:
        head = el("a", head, href=f"#mark-{mark.n}", aria_label=said)
    else:
        head = el("g", head, role="img", tabindex=0, aria_label=said)
    if layout.says_x is not None:
        at, step, lane = y + 17, 16, y + 24
        x = layout.says_x
        height = max(28.0, 12.0 + step * len(lines))
    else:
        at, step = y + 34, 16
        x = 56
        lane = y + 24 + step * len(lines) + 18
        height = lane - y + 6
    words = [
        label(
            cut(line, 29 if layout.says_x else 44),
            x,
            at + i * step,
            "tl-says",
            fill=INK if i == 0 else SOFT,
        )
        for i, line in enumerate(lines)
    ]
    ticks = [
        span(t, lane, f"mark {mark.n}, {mark.part}, {shown}: {t.reading.label}") for t in row.fitted
    ]
    ticks += [
        tick(t, lane, word, tick_words(row.mark, t.reading))
        for t in sorted(row.ticks, key=lambda t: (t.stretches[0][0], t.reading.label))
    ]
    lit = el(
        "rect", x=2.0, y=y, width=layout.width - 4, height=height, rx=4, cls="tl-lit", fill="none"
    )
    body = el("g", number, *words, aria_hidden="true")
    return el("g", lit, head, body, *ticks, cls=f"tl-row m{mark.n}"), y + height
