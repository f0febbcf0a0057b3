"""The tables of growth as pictures: Vega-Lite by Altair, made into SVG by vl-convert."""

from __future__ import annotations

from collections.abc import Sequence
from math import isnan
from pathlib import Path

from benchmarks.harness.scaling import Series


def why_none() -> str | None:
    """Why no chart can be drawn; None if they can."""
    try:
        import altair  # noqa: F401
        import vl_convert  # noqa: F401
    except ImportError as error:
        return f"Altair and vl-convert are not both installed here ({error})"
    return None


def draw(series: Sequence[Series], folder: Path) -> dict[str, Path]:
    """An SVG for each series, by its name; nothing where the libraries are missing."""
    if why_none():
        return {}
    return {s.name: _chart(s, folder / f"speed-{s.name}.svg") for s in series}


def _chart(s: Series, file: Path) -> Path:
    import altair as alt

    values = [
        {"x": p.x, "ms": ms, "what": what, "line": p.line}
        for p in s.points
        for what, ms in (("posterior", p.posterior), ("whole verdict, one step", p.verdict))
        if not isnan(ms)
    ]
    wide = max(p.x for p in s.points) >= 20 * min(p.x for p in s.points)
    scale = alt.Scale(type="log" if wide else "linear", nice=False)
    base = alt.Chart(alt.Data(values=values), width=520, height=320).encode(
        x=alt.X("x:Q", title=s.quantity, scale=scale),
        y=alt.Y("ms:Q", title="milliseconds, cold, median", scale=alt.Scale(type="log")),
    )
    lines = base.mark_line().encode(strokeDash=alt.StrokeDash("what:N", title=None))
    points = base.mark_point(filled=True, opacity=1).encode(detail="what:N")
    if len({p.line for p in s.points}) > 1:
        # colours that those who confuse red and green tell apart (Okabe and Ito)
        colours = alt.Scale(range=["#0072B2", "#D55E00", "#009E73"])
        line = alt.Color("line:N", title=None, scale=colours)
        lines = lines.encode(color=line)
        points = points.encode(color=line, shape=alt.Shape("line:N", title=None))
    chart = (lines + points).configure_view(stroke=None).configure(background="white")
    chart.save(str(file))
    return file
