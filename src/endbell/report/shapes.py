"""The shapes of the time line: ticks, signs of origin, lines and labels."""

from __future__ import annotations

from .markup import Safe, el
from .rows import Tick

INK = "#1a1a1a"
SOFT = "#595959"
RULE = "#c4c4c4"

WIDE = 60.0
"""A reading that covers more than this is drawn low and pale: a long while, not a date."""

Attributes = dict[str, str | float]


def tick(drawn: Tick, base: float, word: str, said: str) -> Safe:
    """A reading: the taller and darker the weightier; its outline tells the part's origin.

    Solid: the part is (probably) original; hollow: replaced; dashed: can't be told.
    """
    p = min(max(drawn.reading.p, 0.0), 1.0)
    look = _look(word)
    out: list[Safe] = []
    for i, (a, b) in enumerate(drawn.stretches):
        width = max(b - a, 3.0 if look == SOLID else 5.0)
        left = (a + b - width) / 2
        long = width > WIDE
        tall = (4 + 15 * p) * (0.5 if long else 1.0)
        opacity = round((0.45 + 0.55 * p) * (0.7 if long else 1.0), 2)
        out.append(
            el("rect", x=left, y=base - tall, width=width, height=tall, opacity=opacity, **look)
        )
        if drawn.open_left and i == 0:
            out.append(_arrow(left, base - tall / 2, -6))
        if drawn.open_right and i == len(drawn.stretches) - 1:
            out.append(_arrow(left + width, base - tall / 2, 6))
    return el("g", *out, role="img", tabindex=0, aria_label=said, cls="tl-tick")


def span(drawn: Tick, base: float, said: str) -> Safe:
    """When a feature's value was fitted: a thin line with ends, since it carries no weight."""
    out: list[Safe] = []
    y = base - 6
    for i, (a, b) in enumerate(drawn.stretches):
        out.append(line(a, y, b, y, INK, "tl-hollow", stroke_width="2"))
        if drawn.open_left and i == 0:
            out.append(_arrow(a, y, -6))
        if drawn.open_right and i == len(drawn.stretches) - 1:
            out.append(_arrow(b, y, 6))
    a, b = drawn.stretches[0][0], drawn.stretches[-1][1]
    ends = [x for x, is_open in ((a, drawn.open_left), (b, drawn.open_right)) if not is_open]
    out += [line(x, y - 5, x, y + 5, INK, "tl-hollow", stroke_width="2") for x in ends]
    hit = el("rect", x=a, y=y - 8, width=max(b - a, 1.0), height=16.0, fill="none")
    return el("g", hit, *out, role="img", tabindex=0, aria_label=said, cls="tl-tick")


def sign(word: str, x: float, y: float) -> Safe:
    """The shape of an origin word, about 12 units across, centred at x, y: as in the tables."""
    if word in ("original", "probably original"):
        half = word == "probably original"
        outline = el("circle", cx=x, cy=y, r=6.0, **HOLLOW)
        filling = f"M{x:g} {y - 6:g}a6 6 0 0 0 0 12{'z' if half else 'a6 6 0 0 0 0 -12z'}"
    elif word in ("replaced", "probably replaced"):
        half = word == "probably replaced"
        outline = el("rect", x=x - 6, y=y - 6, width=12.0, height=12.0, **HOLLOW)
        filling = f"M{x - 6:g} {y - 6:g}h{6 if half else 12}v12h{-6 if half else -12}z"
    else:
        return el("path", d=f"M{x:g} {y - 7:g}l7 7l-7 7l-7 -7z", aria_hidden="true", **HOLLOW)
    return el("g", outline, el("path", d=filling, **SOLID), aria_hidden="true")


def line(x1: float, y1: float, x2: float, y2: float, stroke: str, cls: str, **more: str) -> Safe:
    """A straight line."""
    return el("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, cls=cls, **more)


def label(said: str, x: float, y: float, cls: str, **more: str) -> Safe:
    """A line of text with its base line at y."""
    return el("text", said, x=float(x), y=float(y), cls=cls, **more)


SOLID: Attributes = {"cls": "tl-solid"}
HOLLOW: Attributes = {"cls": "tl-hollow", "fill": "none", "stroke": INK, "stroke_width": 1.6}
DASHED: Attributes = {**HOLLOW, "stroke_dasharray": "2 1.5"}


def _look(word: str) -> Attributes:
    if word in ("replaced", "probably replaced"):
        return HOLLOW
    return DASHED if word == "cannot tell" else SOLID


def _arrow(x: float, y: float, way: int) -> Safe:
    return el("path", d=f"M{x:g} {y - 5:g}l{way} 5l{-way} 5z", cls="tl-solid")
