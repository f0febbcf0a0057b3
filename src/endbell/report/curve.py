"""The build distribution as drawn: the curve, the bars of its sets, the shade behind the rows."""

from __future__ import annotations

from ..chronology.verdict import Verdict
from .markup import Safe, el, number
from .numbers import index_of, percent, span_words, week_words
from .scale import Scale, Segment

SHADES = 6
"""Steps of the shade behind the rows; enough to see a slope, few enough to keep the file small."""

BAR = {"0.50": (9.0, 0.85), "0.80": (7.0, 0.6), "0.95": (5.0, 0.4)}
"""Set -> height of its bar and opacity: the surer the set, the taller and darker."""


def steps(verdict: Verdict, segment: Segment, finest: float) -> list[tuple[float, float, float]]:
    """x0, x1 and mean p a week of bins that are at least ``finest`` units wide."""
    weeks = verdict.build.weeks
    per_week = (segment.x1 - segment.x0) / (segment.end - segment.first)
    size = max(1, round(finest / per_week + 0.499))
    out: list[tuple[float, float, float]] = []
    for a in range(segment.first, segment.end, size):
        b = min(a + size, segment.end)
        held = weeks[max(a, 0) : max(b, 0)]
        out.append((segment.at(a), segment.at(b), float(held.sum()) / (b - a)))
    return out


def curve_panel(verdict: Verdict, scale: Scale, top: float, height: float) -> Safe:
    """The distribution as a stepped curve, named in words."""
    drawn = [steps(verdict, s, 1.5) for s in scale.segments]
    highest = max((p for bins in drawn for _, _, p in bins), default=0.0) or 1.0
    base = top + height
    out: list[Safe] = []
    for bins in drawn:
        line = "".join(f"V{number(base - height * p / highest)}H{number(x1)}" for _, x1, p in bins)
        start = f"M{number(bins[0][0])} {number(base)}"
        out.append(
            el("path", d=f"{start}{line}V{number(base)}z", cls="tl-under", fill_opacity=0.15)
        )
        out.append(
            el(
                "path",
                d=f"{start}{line}V{number(base)}",
                cls="tl-curve",
                fill="none",
                stroke="#1a1a1a",
                stroke_width=1.4,
            )
        )
    build = verdict.build
    said = (
        f"Build date: most likely {week_words(build.mode)}; "
        f"{percent(build.p_mode_year)} in {build.mode_year}"
    )
    return el("g", *out, role="img", tabindex=0, aria_label=said, cls="tl-tick")


def set_bars(verdict: Verdict, scale: Scale, top: float, label_x: float) -> Safe:
    """A bar for each run of the 50, 80 and 95% sets, labelled at the left."""
    out: list[Safe] = []
    for i, (level, (tall, opacity)) in enumerate(BAR.items()):
        y = top + 15 * i
        name = f"{100 * float(level):.0f}%"
        bars: list[Safe] = []
        said: list[str] = []
        for first, last, mass in verdict.build.sets.get(level, ()):
            a, b = index_of(first), index_of(last)
            said.append(f"{span_words(a, b)}, {percent(mass)}")
            bars += [
                el(
                    "rect",
                    x=x0,
                    y=y + 8 - tall / 2,
                    width=max(x1 - x0, 2.0),
                    height=tall,
                    cls="tl-solid",
                    fill_opacity=opacity,
                )
                for x0, x1 in scale.clipped(a, b)
            ]
        label = el(
            "text", name, x=label_x, y=y + 12.5, text_anchor="end", font_size=12, cls="tl-set"
        )
        words = f"{name} set: {'; '.join(said) or 'empty'}"
        out.append(el("g", label, *bars, role="img", tabindex=0, aria_label=words, cls="tl-tick"))
    return el("g", *out, role="group", aria_label="Sets of the build date")


def background(verdict: Verdict, scale: Scale, top: float, bottom: float) -> Safe:
    """The distribution as a shade behind all rows, and the edges of the 95% set."""
    drawn = [steps(verdict, s, 2.0) for s in scale.segments]
    highest = max((p for bins in drawn for _, _, p in bins), default=0.0) or 1.0
    out: list[Safe] = []
    for bins in drawn:
        run: tuple[float, float, int] | None = None
        for x0, x1, p in [*bins, (0.0, 0.0, -1.0)]:
            shade = round(SHADES * p / highest) if p >= 0 else -1
            if run is not None and shade == run[2]:
                run = (run[0], x1, shade)
                continue
            if run is not None and run[2] > 0:
                out.append(
                    el(
                        "rect",
                        x=run[0],
                        y=top,
                        width=run[1] - run[0],
                        height=bottom - top,
                        cls="tl-shade",
                        fill_opacity=round(0.035 * run[2], 3),
                    )
                )
            run = (x0, x1, shade)
    for first, last, _ in verdict.build.sets.get("0.95", ()):
        for x0, x1 in scale.clipped(index_of(first), index_of(last)):
            out += [
                el(
                    "line",
                    x1=x,
                    y1=top,
                    x2=x,
                    y2=bottom,
                    stroke="#595959",
                    stroke_width=0.8,
                    stroke_dasharray="3 4",
                    cls="tl-edge",
                )
                for x in (x0, max(x1, x0 + 2))
            ]
    return el("g", *out, aria_hidden="true")
