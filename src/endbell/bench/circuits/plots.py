"""Vega-Lite specifications of response plots, as plain dicts: whoever shows them needs the
renderer, this needs nothing.

Vega-Lite 5 and 6 read them alike: frequency on a logarithmic axis, dB on a linear one, the computed
response as a line, measured points as points, the tolerance as a band.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
_AXIS = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000, 100_000)
_HERTZ = "datum.value >= 1000 ? format(datum.value / 1000, '~g') + ' k' : format(datum.value, '~g')"


@dataclass(frozen=True, slots=True)
class Curve:
    """A series to draw: ``kind`` 'line' (computed) or 'points' (measured)."""

    title: str
    hz: Sequence[float]
    db: Sequence[float]
    kind: str = "line"


def curve(title: str, hz: ArrayLike, db: ArrayLike, kind: str = "line") -> Curve:
    """A series from arrays; points that are no numbers are left out."""
    at, level = np.asarray(hz, float).ravel(), np.asarray(db, float).ravel()
    if at.shape != level.shape:
        raise ValueError(f"{at.size} frequencies and {level.size} levels: as many of each")
    keep = np.isfinite(level) & np.isfinite(at) & (at > 0.0)
    return Curve(title, at[keep].tolist(), level[keep].tolist(), kind)


def response_spec(
    curves: Sequence[Curve],
    *,
    title: str = "",
    describes: str = "",
    tolerance_db: float | None = None,
    width: int | str = "container",
    height: int = 260,
) -> dict[str, Any]:
    """The plot of a response. ``describes``: what a reader who can't see it is told.

    ``tolerance_db``: half-width of the band drawn about the first line.  Colours are told apart by
    shape as well: a line and points are never mistaken for each other in print.
    """
    rows: list[dict[str, float | str]] = [
        {"hz": hz, "db": db, "series": one.title}
        for one in curves
        for hz, db in zip(one.hz, one.db, strict=True)
    ]
    names = list(dict.fromkeys(one.title for one in curves))
    color = {"field": "series", "type": "nominal", "title": None, "sort": names}
    every = [hz for one in curves for hz in one.hz]
    x = _x_axis(min(every, default=_AXIS[0]), max(every, default=_AXIS[-1]))
    y = {
        "field": "db",
        "type": "quantitative",
        "title": "dB",
        "scale": {"zero": False, "nice": True},
    }
    layers: list[dict[str, Any]] = []
    lines = [one for one in curves if one.kind == "line"]
    if tolerance_db is not None and lines and isfinite(tolerance_db):
        layers.append(_band(lines[0], tolerance_db, x))
    for kind, mark in (
        ("line", {"type": "line", "interpolate": "monotone", "strokeWidth": 2}),
        ("points", {"type": "point", "filled": True, "size": 55}),
    ):
        titles = [one.title for one in curves if one.kind == kind]
        if titles:
            layers.append(
                {
                    "mark": mark,
                    "transform": [{"filter": {"field": "series", "oneOf": titles}}],
                    "encoding": {"x": x, "y": y, "color": color, "tooltip": _tooltip()},
                }
            )
    spec: dict[str, Any] = {
        "$schema": SCHEMA,
        "width": width,
        "height": height,
        "data": {"values": rows},
        "layer": layers,
    }
    if title:
        spec["title"] = title
    if describes:
        spec["description"] = describes
    return spec


def _x_axis(low: float, high: float) -> dict[str, Any]:
    return {
        "field": "hz",
        "type": "quantitative",
        "title": "Hz",
        "scale": {"type": "log", "domain": [low, high], "nice": False},
        "axis": {"values": [v for v in _AXIS if low <= v <= high], "labelExpr": _HERTZ},
    }


def _band(line: Curve, tolerance: float, x: dict[str, Any]) -> dict[str, Any]:
    values = [
        {"hz": hz, "low": db - tolerance, "high": db + tolerance}
        for hz, db in zip(line.hz, line.db, strict=True)
    ]
    return {
        "data": {"values": values},
        "mark": {"type": "area", "opacity": 0.15, "interpolate": "monotone"},
        "encoding": {
            "x": x,
            "y": {"field": "low", "type": "quantitative"},
            "y2": {"field": "high"},
        },
    }


def _tooltip() -> list[dict[str, Any]]:
    return [
        {"field": "series", "type": "nominal", "title": "series"},
        {"field": "hz", "type": "quantitative", "title": "Hz", "format": ",.4~g"},
        {"field": "db", "type": "quantitative", "title": "dB", "format": ".2f"},
    ]
