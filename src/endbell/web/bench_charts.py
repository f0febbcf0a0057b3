"""Charts of what was measured at the bench, each beside the table it is drawn of.  Pure.

Only lines that may be shown are drawn.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ..bench.circuits.plots import curve, response_spec
from ..bench.lines import Bound, Line
from ..bench.result import SheetResult
from ..bench.result_json import told
from .charts import SCHEMA, Chart

ROW = 26  # pixels of a lying row
LEAST_POINTS = 2
"""Points below which a curve is not worth drawing."""


def charts(result: SheetResult) -> tuple[Chart, ...]:
    """Every chart that the sheet has figures for."""
    found = (against_drawing(result), *responses(result), impedance(result))
    return tuple(chart for chart in found if chart is not None)


def against_drawing(result: SheetResult) -> Chart | None:
    """How far each line is from what is drawn, in per cent, with its limits."""
    lines = [x for x in result.lines if x.value is not None and x.expected]
    if not lines:
        return None
    data: list[dict[str, Any]] = []
    rows: list[tuple[str, ...]] = []
    for line in lines:
        assert line.value is not None and line.expected is not None  # chosen so above
        name = f"{line.title} at {line.at}" if line.at else line.title
        low, high = _limits(line)
        row: dict[str, Any] = {"line": name, "off": _off(line.value, line.expected)}
        row["judgement"] = line.judgement.value
        if low is not None:
            row["low"] = _off(low, line.expected)
        if high is not None:
            row["high"] = _off(high, line.expected)
        data.append(row)
        rows.append(
            (
                name,
                told(line.expected, line.unit),
                told(line.value, line.unit),
                f"{row['off']:+.1f} %",
                line.judgement.value,
            )
        )
    names = [row["line"] for row in data]
    x = {"field": "off", "type": "quantitative", "title": "% from what is drawn"}
    spec: dict[str, Any] = {
        "$schema": SCHEMA,
        "data": {"values": data},
        "width": "container",
        "height": ROW * len(set(names)) + 60,
        "autosize": {"type": "fit", "contains": "padding"},
        "encoding": {"y": {"field": "line", "type": "nominal", "title": None, "sort": names}},
        "layer": [
            {
                "mark": {"type": "bar", "opacity": 0.25, "height": 14},
                "transform": [{"filter": "isValid(datum.low) && isValid(datum.high)"}],
                "encoding": {"x": {**x, "field": "low"}, "x2": {"field": "high"}},
            },
            {
                "mark": {"type": "point", "filled": True, "size": 90, "tooltip": True},
                "encoding": {
                    "x": x,
                    "shape": {"field": "judgement", "type": "nominal", "title": None},
                },
            },
        ],
        "usermeta": {"rows": 0},
    }
    furthest = max(data, key=lambda row: abs(row["off"]))
    says = f"Furthest from what is drawn: {furthest['line']}, {furthest['off']:+.1f} %."
    heads = ("line", "drawn", "measured", "difference", "judgement")
    title = "Measured against what is drawn"
    return Chart("drawn", title, says, spec, heads, tuple(rows), frozenset({1, 2, 3}))


def responses(result: SheetResult) -> Iterator[Chart]:
    """The response of each stage that was measured at more than one frequency."""
    stages: dict[str, list[tuple[float, Line]]] = {}
    for line in result.lines:
        stage, at, hertz = line.at.partition("@")
        if line.id == "stage-gain" and at and line.value is not None and _number(hertz):
            stages.setdefault(stage, []).append((float(hertz), line))
    for stage, points in stages.items():
        points.sort(key=lambda point: point[0])
        if len(points) < LEAST_POINTS:
            continue
        hertz = [hz for hz, _ in points]
        drawn = [(hz, line.expected) for hz, line in points if line.expected is not None]
        found = [line.value for _, line in points if line.value is not None]
        curves = [curve("measured", hertz, found, "points")]
        if drawn:
            expected = [db for _, db in drawn]
            curves.insert(0, curve("as drawn", [hz for hz, _ in drawn], expected))
        spec = {**response_spec(curves, title=stage), "encoding": {}}
        rows = tuple(
            (f"{hz:g} Hz", told(line.value, "dB"), told(line.expected, "dB")) for hz, line in points
        )
        says = f"{stage}: {len(points)} points from {hertz[0]:g} to {hertz[-1]:g} Hz."
        yield Chart(
            f"stage-{stage}", f"Response of {stage}", says, spec,
            ("frequency", "measured", "as drawn"), rows, frozenset({0, 1, 2}),
        )  # fmt: skip


def impedance(result: SheetResult) -> Chart | None:
    """The impedance of the loudspeaker over frequency."""
    points: list[tuple[float, float]] = []
    for line in result.lines:
        hertz = line.at.rpartition("@")[2]
        if line.id == "speaker-impedance" and line.value is not None and _number(hertz):
            points.append((float(hertz), line.value))
    if len(points) < LEAST_POINTS:
        return None
    points.sort()
    spec: Mapping[str, Any] = {
        "$schema": SCHEMA,
        "data": {"values": [{"hz": hz, "ohm": ohm} for hz, ohm in points]},
        "width": "container",
        "height": 260,
        "autosize": {"type": "fit", "contains": "padding"},
        "mark": {"type": "line", "point": True, "tooltip": True},
        "encoding": {
            "x": {"field": "hz", "type": "quantitative", "title": "Hz", "scale": {"type": "log"}},
            "y": {"field": "ohm", "type": "quantitative", "title": "ohm"},
        },
    }
    top = max(points, key=lambda point: point[1])
    says = f"Highest at {top[0]:g} Hz: {told(top[1], 'ohm')}."
    rows = tuple((f"{hz:g} Hz", told(ohm, "ohm")) for hz, ohm in points)
    title = "Impedance of the loudspeaker"
    return Chart(
        "impedance", title, says, spec, ("frequency", "impedance"), rows, frozenset({0, 1})
    )


def _limits(line: Line) -> tuple[float | None, float | None]:
    """The narrowest range of the limits that have a source."""
    known: list[Bound] = [b for b in line.bounds if b.confidence != "from memory"]
    lows = [b.low for b in known if b.low is not None]
    highs = [b.high for b in known if b.high is not None]
    return max(lows, default=None), min(highs, default=None)


def _off(value: float, expected: float) -> float:
    return round(100.0 * (value - expected) / abs(expected), 2)


def _number(text: str) -> bool:
    try:
        return float(text) > 0
    except ValueError:
        return False
