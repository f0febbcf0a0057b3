"""Windows on a time line: when a thing was made, fitted or issued, as a bar among its neighbours.

Pure: from rows of a pack to little pictures (SVG) and to one Vega-Lite specification.
"""

from __future__ import annotations

import calendar
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from markupsafe import Markup

from ..reference.cells import CellError, Cells
from ..reference.rows import Owned
from ..reference.types import Window
from ..report.markup import Safe, el
from .charts import ROW, SCHEMA
from .pack_sheets import SheetRow

WIDE, HIGH = 240.0, 14.0
DAY = "utc:'%Y-%m-%d'"
MONTHS = calendar.month_name[1:]


@dataclass(frozen=True, slots=True)
class Bar:
    """A window with what it is of.  ``of``: the feature, class or model; ``label``: the value."""

    of: str
    label: str
    window: Window
    row: SheetRow

    @property
    def said(self) -> str:
        """The window in words."""
        return window_words(self.window)


def window_of(row: SheetRow) -> Window | None:
    """The window of a row; None where its table has none."""
    value: Any = row.value
    if isinstance(value, Owned):
        value = value.row
    if isinstance(value, Window):
        return value
    window = getattr(value, "window", None)
    if isinstance(window, Window):
        return window
    first, last = getattr(value, "first", None), getattr(value, "last", None)
    return Window(first, last) if isinstance(first, date) and isinstance(last, date) else None


def window_words(window: Window) -> str:
    """A window as people say it: '1953 to 1958', 'February 1954 to December 1958', 'from 1961'.

    As fine as its finer end needs; an open window says 'at any time'.
    """
    ends = [(window.first, False), (window.last, True)]
    fine = max((_fineness(day, end=end) for day, end in ends if day), default=0)
    first, last = (_day_words(day, fine) if day else "" for day, _ in ends)
    if first and last:
        return first if first == last else f"{first} to {last}"
    if first:
        return f"from {first}"
    return f"until {last}" if last else "at any time"


def _fineness(day: date, *, end: bool) -> int:
    """0 where the day bounds a year, 1 where it bounds a month, else 2."""
    edge = date.fromordinal(day.toordinal() + 1) if end else day
    return 2 if edge.day > 1 else int(edge.month > 1)


def _day_words(day: date, fine: int) -> str:
    words = (str(day.day), MONTHS[day.month - 1], str(day.year))
    return " ".join(words[2 - fine :])


def years_of(windows: Iterable[Window]) -> tuple[int, int]:
    """The first year and the one after the last that windows on one time line need."""
    days = [day for w in windows for day in (w.first, w.last) if day is not None]
    if not days:
        return (1900, 2000)
    return (min(days).year - 1, max(days).year + 2)


def bar_svg(window: Window, years: tuple[int, int]) -> str:
    """The window as a bar on the time line of ``years``; beside words, so hidden from readers.

    An open end runs to the edge and is drawn pale there.
    """
    x0 = _x(window.first, years, 0.0)
    x1 = max(_x(window.last, years, WIDE), x0 + 2)
    marks: list[Safe] = [
        el("line", x1=_x(date(year, 1, 1), years, 0), x2=_x(date(year, 1, 1), years, 0), y1=0,
           y2=HIGH, cls="w-year")
        for year in range(years[0] + (-years[0]) % 10, years[1], 10)
    ]  # fmt: skip
    marks.append(el("rect", x=x0, y=3, width=x1 - x0, height=HIGH - 6, cls="w-bar"))
    if window.first is None:
        marks.append(el("rect", x=0, y=3, width=12, height=HIGH - 6, cls="w-open"))
    if window.last is None:
        marks.append(el("rect", x=WIDE - 12, y=3, width=12, height=HIGH - 6, cls="w-open"))
    return el(
        "svg",
        *marks,
        cls="window",
        viewBox=f"0 0 {WIDE:g} {HIGH:g}",
        preserveAspectRatio="none",
        aria_hidden="true",
        focusable="false",
    )


def scale_svg(years: tuple[int, int]) -> str:
    """The decades above a column of bars."""
    decades = range(years[0] + (-years[0]) % 10, years[1], 10)
    marks = [
        el("text", f"’{year % 100:02d}" if len(decades) > 5 else str(year),
           x=_x(date(year, 1, 1), years, 0), y=11, font_size=11, cls="w-decade")
        for year in decades
    ]  # fmt: skip
    return el(
        "svg", *marks, cls="window", viewBox=f"0 0 {WIDE:g} {HIGH:g}", aria_hidden="true",
        focusable="false",
    )  # fmt: skip


def drawn(bars: Sequence[Bar | TypedBar]) -> dict[str, Any]:
    """What a template needs to draw windows on one time line: ``draw`` and ``scale``."""
    years = years_of(bar.window for bar in bars)

    def draw(window: Window) -> Markup:
        return Markup(bar_svg(window, years))

    return {"draw": draw, "scale": Markup(scale_svg(years))}


THIS, TOGETHER, BESIDE = "this feature", "changed with it", "on the same part"


def windows_spec(bars: Sequence[Bar], first: str, together: Collection[str]) -> Mapping[str, Any]:
    """Vega-Lite: a bar a window, that of the feature titled ``first`` on top, with its neighbours.

    ``together``: titles of those that the maker changed together with it.
    """
    years = years_of(bar.window for bar in bars)
    low, high = date(years[0], 1, 1), date(years[1], 1, 1)
    data = [
        {
            "of": bar.of,
            "value": bar.label,
            "from": (bar.window.first or low).isoformat(),
            "to": (bar.window.last or high).isoformat(),
            "window": bar.said,
            "share": bar.window.weight,
            "models": bar.row.cells.get("models", "").replace(";", ", ") or "all of its pack",
            "pack": bar.row.pack,
            "source": bar.row.source,
            "confidence": bar.row.confidence,
            "which": THIS if bar.of == first else TOGETHER if bar.of in together else BESIDE,
            "line": bar.label if bar.of == first else f"{bar.of}: {bar.label}",
        }
        for bar in bars
    ]
    lines = list(dict.fromkeys(row["line"] for row in data))
    told = ("window", "models", "share", "pack", "source", "confidence")
    return {
        "$schema": SCHEMA,
        "data": {"values": data, "format": {"parse": {"from": DAY, "to": DAY}}},
        "mark": {"type": "bar", "cornerRadius": 2, "height": {"band": 0.62}},
        "usermeta": {"rows": len(lines), "short": True},
        "width": "container",
        "height": ROW * max(len(lines), 1) + 96,
        "autosize": {"type": "fit", "contains": "padding"},
        "encoding": {
            "y": {"field": "line", "type": "nominal", "title": None, "sort": lines},
            "x": {
                "field": "from",
                "type": "temporal",
                "title": None,
                "scale": {"type": "utc", "nice": "year"},
                "axis": {"format": "%Y", "labelAngle": 0, "tickCount": 8},
            },
            "x2": {"field": "to"},
            "color": {
                "field": "which",
                "type": "nominal",
                "title": None,
                "scale": {"domain": [THIS, TOGETHER, BESIDE], "range": "category"},
            },
            "tooltip": [{"field": name} for name in ("of", "value", *told)],
        },
    }  # fmt: skip


@dataclass(frozen=True, slots=True)
class TypedBar:
    """A window as it is being typed, in a form."""

    label: str
    window: Window

    @property
    def said(self) -> str:
        """The window in words."""
        return window_words(self.window)


def typed_bars(rows: Iterable[Mapping[str, str]], table: str) -> list[TypedBar]:
    """The windows of rows that are being typed; what can't be read yet is left out."""
    found: list[TypedBar] = []
    for row in rows:
        if not (row.get("first") or row.get("last")):
            continue
        label = next((row[k] for k in ("value", "name", "model", "id") if row.get(k)), table)
        try:
            found.append(TypedBar(label, Cells({k: v for k, v in row.items() if v}).window("x")))
        except CellError:
            continue
    return found


def _x(day: date | None, years: tuple[int, int], open_end: float) -> float:
    if day is None:
        return open_end
    start = date(years[0], 1, 1).toordinal()
    whole = date(years[1], 1, 1).toordinal() - start
    return round((day.toordinal() - start) / whole * WIDE, 1)
