"""The time line as SVG: one drawing for the page, the HTML file and paper.

Colours are presentation attributes (black on white, as for print); a page recolours them by class,
so that light and dark need no second drawing.  Weight shows as height and opacity, origin as shape
and word: nothing is said by colour alone.
"""

from __future__ import annotations

from itertools import pairwise

from ..chronology.verdict import Verdict
from ..reference.types import Reference
from .curve import background, curve_panel, set_bars
from .lanes import Lanes, Layout, sheets
from .markup import Safe, el
from .numbers import percent
from .rows import rows
from .scale import Scale, fit, labelled_years, year_start
from .shapes import INK, RULE, SOFT, label, line
from .wording import pieces

WIDE = Layout(960, 262, 756, 768, 26, 32, 22, 48, 5, 42)
NARROW = Layout(340, 34, 334, None, 34, 40, 16, 42, 4, 40)
BESIDE = Layout(740, 214, 528, 540, 19, 26, 18, 44, 4, 42)
"""For a column that takes about two thirds of a window."""

CURVE_TOP = 24.0
CURVE_HEIGHT = 64.0
BARS_TOP = CURVE_TOP + CURVE_HEIGHT + 6
ROWS_TOP = BARS_TOP + 50
FOOT = 26.0

PAPER_HEIGHT = 1400.0
"""A drawing this high still fits a sheet of A4 or Letter at a size that can be read."""


def timeline_svg(
    verdict: Verdict,
    reference: Reference | None = None,
    *,
    narrow: bool = False,
    prefix: str = "tl",
    links: bool = True,
    layout: Layout | None = None,
) -> str:
    """The time line: the build distribution, its sets, and a row a mark with its readings.

    ``narrow``: laid out for a phone (labels above the rows). ``prefix`` keeps ids and link targets
    apart where a page holds two. ``links``: a row's label leads to ``#mark-N``. ``layout``: another
    one than these two. Titles of classes and the spans of features come from ``reference``. Every
    tick, row and band is named in words and reached by keyboard.
    """
    layout = layout or (NARROW if narrow else WIDE)
    scale = _scale(verdict, layout)
    groups = rows(verdict, scale, reference)
    (lanes,) = sheets(groups, layout, reference, top=ROWS_TOP, links=links)
    return _drawing(verdict, scale, layout, lanes, prefix, "narrow" if narrow else "wide")


def timeline_sheets(
    verdict: Verdict,
    reference: Reference | None = None,
    *,
    prefix: str = "tp",
    limit: float = PAPER_HEIGHT,
) -> list[str]:
    """The time line for paper: as many drawings as keep each below ``limit`` units of height.

    Each has the axis, the curve and its own rows; parts are never split. Width: 960 units.
    """
    scale = _scale(verdict, WIDE)
    groups = rows(verdict, scale, reference)
    return [
        _drawing(verdict, scale, WIDE, lanes, f"{prefix}{i}", "paper")
        for i, lanes in enumerate(
            sheets(groups, WIDE, reference, top=ROWS_TOP, links=False, limit=limit - FOOT)
        )
    ]


def _scale(verdict: Verdict, layout: Layout) -> Scale:
    return fit(
        verdict,
        x0=layout.x0,
        x1=layout.x1,
        gap=layout.gap,
        least=layout.least,
        most=layout.most,
    )


def _drawing(
    verdict: Verdict, scale: Scale, layout: Layout, lanes: Lanes, prefix: str, cls: str
) -> Safe:
    y = lanes.bottom
    return el(
        "svg",
        el("title", f"Time line of {verdict.dossier}", id=f"{prefix}-title"),
        el("desc", description(verdict, scale), id=f"{prefix}-desc"),
        background(verdict, scale, BARS_TOP + 46, y),
        _axis(scale, layout, y),
        curve_panel(verdict, scale, CURVE_TOP, CURVE_HEIGHT),
        set_bars(verdict, scale, BARS_TOP, label_x=layout.x0 - 6),
        *lanes.drawn,
        xmlns="http://www.w3.org/2000/svg",
        cls=f"timeline {cls}",
        viewBox=f"0 0 {layout.width:g} {y + FOOT:g}",
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
