"""The time line as SVG: one drawing for the page, the HTML file and paper.

Colours are presentation attributes (black on white, as for print); a page recolours them by class,
so that light and dark need no second drawing.  Weight shows as height and opacity, origin as shape
and word: nothing is said by colour alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from ..chronology.verdict import Verdict
from ..reference.types import Reference
from .cells import cut
from .curve import background, curve_panel, set_bars
from .markup import Safe, el, join, visible
from .numbers import percent
from .rows import AssemblyRows, MarkRow, PartRows, part_title, rows
from .scale import Scale, fit, labelled_years, year_start
from .shapes import INK, RULE, SOFT, label, line, sign, tick
from .wording import kind_words, origin_words, pieces, tick_words, verbatim


@dataclass(frozen=True, slots=True)
class Layout:
    """Where things stand. ``x0``/``x1``: the plot; ``says_x``: the words beside a row (None: above it)."""

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


WIDE = Layout(960, 268, 772, 784, 28, 32, 22, 48, 5, 42)
NARROW = Layout(340, 34, 334, None, 34, 40, 16, 42, 4, 40)

CURVE_TOP = 24.0
CURVE_HEIGHT = 64.0
BARS_TOP = CURVE_TOP + CURVE_HEIGHT + 6
ROWS_TOP = BARS_TOP + 52


def timeline_svg(
    verdict: Verdict,
    reference: Reference | None = None,
    *,
    narrow: bool = False,
    prefix: str = "tl",
    links: bool = True,
) -> str:
    """The time line: the build distribution, its sets, and a row a mark with its readings.

    ``narrow``: laid out for a phone (labels above the rows). ``prefix`` keeps ids and link targets
    apart where a page holds two. ``links``: a row's label leads to ``#mark-N``. Titles of classes
    come from ``reference``. Every tick, row and band is named in words and reached by keyboard.
    """
    layout = NARROW if narrow else WIDE
    scale = fit(
        verdict,
        x0=layout.x0,
        x1=layout.x1,
        gap=layout.gap,
        least=layout.least,
        most=layout.most,
    )
    drawn: list[Safe] = []
    y = ROWS_TOP
    for group in rows(verdict, scale):
        block, y = _assembly(group, y, layout, reference, links)
        drawn.append(block)
    height = y + 26
    return el(
        "svg",
        el("title", f"Time line of {verdict.dossier}", id=f"{prefix}-title"),
        el("desc", description(verdict, scale), id=f"{prefix}-desc"),
        background(verdict, scale, BARS_TOP + 46, y),
        _axis(scale, layout, y),
        curve_panel(verdict, scale, CURVE_TOP, CURVE_HEIGHT),
        set_bars(verdict, scale, BARS_TOP, label_x=layout.x0 - 6),
        *drawn,
        xmlns="http://www.w3.org/2000/svg",
        cls="timeline narrow" if narrow else "timeline wide",
        viewBox=f"0 0 {layout.width:g} {height:g}",
        role="group",
        aria_labelledby=f"{prefix}-title {prefix}-desc",
        font_family="system-ui, sans-serif",
        font_size=13,
        fill=INK,
    )


def description(verdict: Verdict, scale: Scale) -> str:
    """What the drawing shows, in words: years drawn, the 95% set, what lies outside."""
    years = [
        str(s.first_year) if s.first_year == s.last_year else f"{s.first_year} to {s.last_year}"
        for s in scale.segments
    ]
    said = f"Years drawn: {', '.join(years)}. The 95% set: "
    said += "; ".join(f"{p.words}, {percent(p.mass)}" for p in pieces(verdict)) or "empty"
    inside = sum(
        float(verdict.build.weeks[max(s.first, 0) : max(s.end, 0)].sum()) for s in scale.segments
    )
    return (
        f"{said}. {percent(max(0.0, 1 - inside))} of the build date lies outside the years drawn."
    )


def _axis(scale: Scale, layout: Layout, bottom: float) -> Safe:
    """Year lines and labels above and below, breaks between segments; said by the description."""
    out: list[Safe] = []
    for s in scale.segments:
        shown = labelled_years(s, layout.year_room)
        every = (s.x1 - s.x0) / len(s.years) >= layout.year_room
        for year in s.years:
            x = s.at(year_start(year))
            if year in shown or every:
                out.append(line(x, 18, x, bottom, RULE, "tl-rule"))
        for year in shown:
            x = s.at(year_start(year) + 26) if every else s.at(year_start(year))
            anchor = "middle" if every else "start"
            for at in (14, bottom + 18):
                out.append(label(str(year), x, at, "tl-year", text_anchor=anchor))
        for at in (18, bottom):
            out.append(line(s.x0, at, s.x1, at, SOFT, "tl-axis"))
    for a, b in pairwise(scale.segments):
        middle = (a.x1 + b.x0) / 2
        for at in (18, bottom):
            for dx in (-3, 3):
                out.append(line(middle + dx - 3, at + 5, middle + dx + 3, at - 5, SOFT, "tl-axis"))
        out.append(line(middle, 28, middle, bottom - 8, RULE, "tl-break", stroke_dasharray="1 5"))
    return el("g", *out, aria_hidden="true")


def _assembly(
    group: AssemblyRows, y: float, layout: Layout, reference: Reference | None, links: bool
) -> tuple[Safe, float]:
    title = group.id.capitalize()
    if group.married is not None:
        title += f" (another amp's: {percent(group.married.married)})"
    out = [label(title, 4, y + 18, "tl-assembly", font_weight="bold", fill=SOFT)]
    y += 26
    for part in group.parts:
        block, y = _part(part, y, layout, reference, links)
        out.append(block)
    return el("g", *out, role="group", aria_label=title, cls="tl-group"), y + 6


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
        y += 28
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
        label(cut(line, 34), x, at + i * step, "tl-says", fill=INK if i == 0 else SOFT)
        for i, line in enumerate(lines)
    ]
    ticks = [
        tick(t, lane, word, tick_words(row.mark, t.reading))
        for t in sorted(row.ticks, key=lambda t: (t.stretches[0][0], t.reading.label))
    ]
    lit = el(
        "rect", x=2.0, y=y, width=layout.width - 4, height=height, rx=4, cls="tl-lit", fill="none"
    )
    body = el("g", number, *words, aria_hidden="true")
    return el("g", lit, head, body, *ticks, cls=f"tl-row m{mark.n}"), y + height
