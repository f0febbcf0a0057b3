"""The compact strip: the build distribution alone, small enough for a list of amps."""

from __future__ import annotations

from ..chronology.verdict import Verdict
from .curve import curve_panel
from .markup import Safe, el
from .scale import fit, labelled_years, year_start


def strip_svg(
    verdict: Verdict, *, prefix: str = "strip", width: float = 360, height: float = 46
) -> str:
    """The compact strip: the curve alone with its years, for a page's top or a list of amps."""
    scale = fit(verdict, x0=1, x1=width - 1, gap=12, least=36, most=4, readings=False)
    out: list[Safe] = [curve_panel(verdict, scale, 2, height - 20)]
    for s in scale.segments:
        out.append(
            el(
                "line",
                x1=s.x0,
                x2=s.x1,
                y1=height - 18,
                y2=height - 18,
                stroke="#595959",
                cls="tl-axis",
            )
        )
        every = (s.x1 - s.x0) / len(s.years) >= 36
        for year in labelled_years(s, 36):
            x = s.at(year_start(year) + (26 if every else 0))
            out.append(
                el(
                    "text",
                    str(year),
                    x=x,
                    y=height - 4,
                    font_size=12,
                    text_anchor="middle" if every else "start",
                    cls="tl-year",
                )
            )
    said = f"Build date of {verdict.dossier}, by year"
    return el(
        "svg",
        el("title", said, id=f"{prefix}-title"),
        *out,
        xmlns="http://www.w3.org/2000/svg",
        cls="strip",
        viewBox=f"0 0 {width:g} {height:g}",
        role="group",
        aria_labelledby=f"{prefix}-title",
        font_family="system-ui, sans-serif",
        fill="#1a1a1a",
    )
