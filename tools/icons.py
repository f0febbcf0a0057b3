"""Draws the icons with which a phone shows the workbench among its programs.

The same end bell as in ``icon.svg``: 'plain' with round corners, 'full' to the edge and smaller,
for phones that cut a shape of their own.

    python tools/icons.py
"""

from __future__ import annotations

from pathlib import Path

from PIL import Image, ImageDraw

OUT = Path(__file__).parents[1] / "src" / "endbell" / "web" / "static" / "icons"
GROUND, LINE = "#0a558c", "#ffffff"
UNITS = 64  # of the drawing's own grid
FINER = 4  # drawn larger, then made smaller, so that edges are smooth


def icon(size: int, *, full: bool) -> Image.Image:
    """The icon in ``size`` pixels."""
    unit = size * FINER / UNITS
    image = Image.new("RGBA", (size * FINER, size * FINER), (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)
    if full:
        draw.rectangle((0, 0, size * FINER, size * FINER), fill=GROUND)
    else:
        draw.rounded_rectangle((0, 0, size * FINER, size * FINER), radius=12 * unit, fill=GROUND)
    shrunk = 0.72 if full else 1.0

    def at(x: float, y: float) -> tuple[float, float]:
        middle = UNITS / 2
        return (middle + (x - middle) * shrunk) * unit, (middle + (y - middle) * shrunk) * unit

    thick = 5 * unit * shrunk

    def dot(x: float, y: float) -> None:
        cx, cy = at(x, y)
        draw.ellipse((cx - thick / 2, cy - thick / 2, cx + thick / 2, cy + thick / 2), fill=LINE)

    def line(*points: tuple[float, float]) -> None:
        draw.line([at(*point) for point in points], fill=LINE, width=round(thick))
        for point in points:
            dot(*point)

    line((18, 46), (18, 28))
    line((46, 46), (46, 28))
    line((12, 46), (52, 46))
    edge = 2.5  # half a line: an arc's width lies within its box
    draw.arc(
        (*at(18 - edge, 14 - edge), *at(46 + edge, 42 + edge)),
        180,
        360,
        fill=LINE,
        width=round(thick),
    )
    dot(32, 52)
    return image.resize((size, size), Image.Resampling.LANCZOS)


def main() -> None:
    """Write them all."""
    OUT.mkdir(parents=True, exist_ok=True)
    for size in (192, 512):
        icon(size, full=False).save(OUT / f"plain-{size}.png", optimize=True)
        icon(size, full=True).convert("RGB").save(OUT / f"full-{size}.png", optimize=True)


if __name__ == "__main__":
    main()
