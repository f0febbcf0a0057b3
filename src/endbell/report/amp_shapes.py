"""The lines of the drawing: cabinet, panel, loudspeakers, chassis, sheets.  No maker's amp."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from .amp import Amp
from .amp_layout import WIDTH, Layout, Row
from .markup import Safe, el

PAPER = "#ffffff"
LINE = "#8a8a8a"

Attributes = dict[str, str | float]

LEFT, RIGHT = 10.0, WIDTH - 10.0


def front(amp: Amp, laid_out: Layout) -> list[Safe]:
    """Cabinet from the front: handle on top, panel with knobs, cloth, feet."""
    top_row = laid_out.row("top")
    top = top_row.bottom - 16 if top_row else 8.0
    bottom = laid_out.height - 12
    out = [_box(LEFT, top, RIGHT, bottom, 10), *_feet(bottom)]
    if top_row:
        middle, y = WIDTH / 2, top
        out.append(_path(f"M{middle - 62:g} {y:g}v-10q0 -9 10 -9h104q10 0 10 9v10"))
    panel = laid_out.row("panel")
    grille_top = top + 14
    if panel:
        out.append(_box(LEFT + 12, panel.top + 4, RIGHT - 12, panel.bottom, 4))
        out += _knobs(amp, panel.top + 17)
        grille_top = panel.bottom + 8
    cloth = [row for row in laid_out.rows if row.name in ("badge", "grille")]
    if cloth:
        grille_bottom = cloth[-1].bottom - 4
        out.append(_box(LEFT + 12, grille_top, RIGHT - 12, grille_bottom, 6))
        out += _weave(LEFT + 14, grille_top + 2, RIGHT - 14, grille_bottom - 2)
    return out


def back(amp: Amp, laid_out: Layout) -> list[Safe]:
    """Cabinet from behind: rear edge of the chassis, valves, loudspeakers, tank, back panel."""
    bottom = laid_out.height - 12
    out = [_box(LEFT, 6, RIGHT, bottom, 10), *_feet(bottom)]
    rail = laid_out.row("rail")
    if rail:
        out.append(_box(LEFT + 12, rail.top + 2, RIGHT - 12, rail.bottom - 2, 3))
        out += _sockets(rail)
    valves = laid_out.row("valves")
    for _, x, y in valves.places if valves else ():
        out.append(
            _path(f"M{x - 20:g} {y - 27:g}h40M{x - 17:g} {y - 27:g}v50q0 15 17 15t17 -15v-50")
        )
    speakers = laid_out.row("speakers")
    if speakers:
        size = 46.0 if max(_a_line(speakers), 1) > 2 else 54.0
        for _, x, y in speakers.places:
            out += [_ring(x, y + 6, size), _ring(x, y + 6, size - 9), _ring(x, y + 6, 20)]
    floor = laid_out.row("floor")
    for _, x, _y in floor.places if floor else ():
        out.append(_box(x - 78, floor.top + 6, x + 78, floor.bottom - 2, 3))  # type: ignore[union-attr]
        out.append(_path(_spring(x - 66, floor.top + 14, 132)))  # type: ignore[union-attr]
    panel = laid_out.row("panel")
    if panel:
        out.append(_box(LEFT + 12, panel.top + 4, RIGHT - 12, panel.bottom - 2, 3))
        for x in (LEFT + 22, RIGHT - 22):
            out.append(_ring(x, (panel.top + panel.bottom) / 2, 3))
    return out


def chassis(amp: Amp, laid_out: Layout) -> list[Safe]:
    """The chassis from below: pots along the front edge, board, cans, transformers."""
    bottom = laid_out.height - 8
    out = [_box(LEFT, 6, RIGHT, bottom, 4), _box(LEFT + 5, 11, RIGHT - 5, bottom - 5, 3)]
    pots = laid_out.row("pots")
    for _, x, y in pots.places if pots else ():
        out += [_ring(x, y, 16.5), _path(f"M{x - 3.5:g} {y - 16:g}v-12h7v12")]
    board = laid_out.row("board")
    if board:
        out.append(_box(LEFT + 14, board.top + 4, RIGHT - 14, board.bottom, 2))
        for i in range(13):
            x = LEFT + 26 + i * (WIDTH - 72) / 12
            out += [_ring(x, board.top + 10, 2), _ring(x, board.bottom - 6, 2)]
    cans = laid_out.row("cans")
    for _, x, y in cans.places if cans else ():
        out.append(_box(x - 24, y - 19, x + 24, y + 34, 8))
    iron = laid_out.row("iron")
    for _, x, y in iron.places if iron else ():
        out += [
            _box(x - 25, y - 22, x + 25, y + 36, 2),
            _path(f"M{x - 25:g} {y - 16:g}h-7v46h7M{x + 25:g} {y - 16:g}h7v46h-7"),
            _ring(x - 28.5, y - 11, 1.5), _ring(x + 28.5, y - 11, 1.5),
            _ring(x - 28.5, y + 25, 1.5), _ring(x + 28.5, y + 25, 1.5),
        ]  # fmt: skip
    return out


def papers(amp: Amp, laid_out: Layout) -> list[Safe]:
    """The papers: a sheet for each, with a folded corner."""
    out: list[Safe] = []
    for row in laid_out.rows:
        for _, x, y in row.places:
            x0, y0 = x - 30, y - 28
            out.append(_path(f"M{x0:g} {y0:g}h46l14 14v62h-60zm46 0v14h14"))
            out.append(_path(f"M{x0 + 9:g} {y0 + 9:g}h26M{x0 + 9:g} {y0 + 66:g}h42"))
    return out


SCENES: Mapping[str, Callable[[Amp, Layout], list[Safe]]] = {
    "front": front,
    "back": back,
    "chassis": chassis,
    "papers": papers,
}


def _knobs(amp: Amp, y: float) -> list[Safe]:
    """As many knobs as the amp has pots, at most as many as fit."""
    count = min(sum(s.part_class == "potentiometer" for s in amp.spots) or 3, 12)
    step = (WIDTH - 80) / count
    out: list[Safe] = []
    for i in range(count):
        x = 40 + step * (i + 0.5)
        out += [_ring(x, y, 7.5), _path(f"M{x:g} {y:g}l4.5 -5")]
    return out


def _sockets(rail: Row) -> list[Safe]:
    """Jacks at one end, the fuse holder and the mains lead at the other."""
    y = (rail.top + rail.bottom) / 2 - 6
    out = [_ring(LEFT + 26, y, 6), _ring(LEFT + 44, y, 6), _ring(RIGHT - 48, y, 5)]
    out.append(_path(f"M{RIGHT - 28:g} {y:g}h14q8 0 8 9v30q0 8 6 8"))
    return out


def _weave(x0: float, y0: float, x1: float, y1: float) -> list[Safe]:
    """Slanting threads, cut at the edges of the cloth."""
    steps: list[str] = []
    width, height = x1 - x0, y1 - y0
    offset = 18.0
    while offset < width + height:
        ax, ay = x0 + min(offset, width), y0 + max(0.0, offset - width)
        bx, by = x0 + max(0.0, offset - height), y0 + min(offset, height)
        steps.append(f"M{ax:.1f} {ay:.1f}L{bx:.1f} {by:.1f}")
        offset += 18.0
    return [_path("".join(steps), "amp-fine")]


def _spring(x: float, y: float, length: float) -> str:
    return f"M{x:g} {y:g}" + "".join(f"q{length / 44:g} -6 {length / 22:g} 0" for _ in range(22))


def _a_line(row: Row) -> int:
    """How many spots stand side by side in the first line of a row."""
    first = row.places[0][2] if row.places else 0.0
    return sum(y == first for _, _, y in row.places)


def _feet(bottom: float) -> list[Safe]:
    return [_path(f"M{x:g} {bottom:g}v6h26v-6") for x in (LEFT + 24, RIGHT - 50)]


def _box(x0: float, y0: float, x1: float, y1: float, round_: float) -> Safe:
    return el(
        "rect", x=x0, y=y0, width=x1 - x0, height=y1 - y0, rx=round_, cls="amp-line",
        fill="none", stroke=LINE, stroke_width=1.4,
    )  # fmt: skip


def _ring(x: float, y: float, r: float) -> Safe:
    return el(
        "circle", cx=x, cy=y, r=float(r), cls="amp-line", fill="none", stroke=LINE,
        stroke_width=1.4,
    )  # fmt: skip


def _path(d: str, cls: str = "amp-line") -> Safe:
    width = 1.4 if cls == "amp-line" else 0.7
    return el("path", d=d, cls=cls, fill="none", stroke=LINE, stroke_width=width)
