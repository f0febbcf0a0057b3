"""The amp drawn: a line drawing of each view, with the spots on it (SVG, our own)."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from .amp import ABSENT, FITS, ODD, SEEN, Amp, Spot
from .amp_layout import TARGET, WIDTH
from .amp_shapes import PAPER, SCENES, Attributes
from .markup import Safe, el, visible
from .shapes import INK

Attribute = Mapping[str, str]

R = 11.0
"""Radius of a spot's sign."""

LONGEST = 9
"""Characters of a label that fit between neighbours."""


def amp_svg(
    amp: Amp,
    view: str,
    link: Callable[[Spot], Attribute] | None = None,
    *,
    chosen: str | None = None,
) -> Safe:
    """The drawing of one view; hidden from screen readers, for which the list of spots is there.

    ``link``: attributes of the link on a spot (href, data-...); None draws no links.
    ``chosen``: the part whose spot is marked as the one that is open.
    """
    laid_out = amp.layouts[view]
    scene = SCENES[view](amp, laid_out)
    spots = [_spot(spot, link, spot.part == chosen) for spot in amp.of(view)]
    return el(
        "svg",
        el("g", *scene, cls="amp-lines"),
        *spots,
        viewBox=f"0 0 {WIDTH:g} {laid_out.height:g}",
        cls=f"amp amp-{view}",
        aria_hidden="true",
        focusable="false",
    )


def sign(state: str) -> Safe:
    """The sign of a state by itself, 24 units square, for lists and the key."""
    return el(
        "svg",
        *_sign(state, 12.0, 12.0),
        viewBox="0 0 24 24",
        cls=f"sign sign-{state}",
        aria_hidden="true",
        focusable="false",
    )


def _spot(spot: Spot, link: Callable[[Spot], Attribute] | None, chosen: bool) -> Safe:
    hit = el("circle", cx=spot.x, cy=spot.y, r=TARGET / 2, cls="spot-hit", fill="transparent")
    said = visible(spot.part)
    label = el(
        "text",
        said if len(said) <= LONGEST else said[: LONGEST - 1] + "…",
        x=spot.x,
        y=spot.y + 27,
        text_anchor="middle",
        font_size="12",
        cls="spot-label",
        fill=INK,
        stroke=PAPER,
        stroke_width="3.5",
        stroke_linejoin="round",
        paint_order="stroke",
    )
    title = el("title", f"{spot.title}: {spot.state_words}")
    inside = (title, hit, *_sign(spot.state, spot.x, spot.y), label)
    cls = f"spot spot-{spot.state}{' is-open' if chosen else ''}"
    if link is None:
        return el("g", *inside, cls=cls)
    attributes = {name.replace("-", "_"): value for name, value in link(spot).items()}
    return el("a", *inside, cls=cls, tabindex="-1", **attributes)


def _sign(state: str, x: float, y: float) -> tuple[Safe, ...]:
    """Each state has a shape of its own: dashed ring, ring with a point, tick, diamond, bar."""
    ring: Attributes = {"cx": x, "cy": y, "r": R, "stroke_width": 2.0}
    if state == FITS:
        tick = f"M{x - 5:g} {y + 0.5:g}l3.5 4l6.5 -8"
        return (
            el("circle", **ring, cls="sign-full", fill="currentColor", stroke="currentColor"),
            el("path", d=tick, cls="sign-on", fill="none", stroke=PAPER, stroke_width=2.4),
        )
    if state == ODD:
        diamond = f"M{x:g} {y - 13:g}l13 13l-13 13l-13 -13z"
        return (
            el("path", d=diamond, cls="sign-odd", fill=PAPER, stroke="currentColor",
               stroke_width=2.4),
            el("path", d=f"M{x:g} {y - 6:g}v7m0 3.5v1.6", cls="sign-stroke", fill="none",
               stroke="currentColor", stroke_width=2.6),
        )  # fmt: skip
    if state == ABSENT:
        square = {"x": x - 10, "y": y - 10, "width": 20.0, "height": 20.0}
        return (
            el("rect", **square, cls="sign-empty", fill=PAPER, stroke="currentColor",
               stroke_width=2.0),
            el("path", d=f"M{x - 5:g} {y:g}h10", cls="sign-stroke", fill="none",
               stroke="currentColor", stroke_width=2.4),
        )  # fmt: skip
    if state == SEEN:
        return (
            el("circle", **ring, cls="sign-empty", fill=PAPER, stroke="currentColor"),
            el("circle", cx=x, cy=y, r=4.5, cls="sign-full", fill="currentColor"),
        )
    return (
        el("circle", **ring, cls="sign-empty", fill=PAPER, stroke="currentColor",
           stroke_dasharray="4 3.2"),
    )  # fmt: skip
