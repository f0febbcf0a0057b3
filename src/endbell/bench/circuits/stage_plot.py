"""The plot of one stage of a sheet: what it gives as drawn, and what was measured."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..circuit import StageDrawing
from ..readings import Bench
from ..telling import shown
from .cards import NetlistError
from .direct import NotSettled
from .mna import SingularCircuit
from .plots import Curve, curve, response_spec
from .readings import points_of
from .response import of_drawing, spaced

BAND = (20.0, 20_000.0)  # what a loudspeaker and an ear are for; measured points widen it
_PER_DECADE = 30


def stage_plot(
    bench: Bench,
    drawing: StageDrawing,
    *,
    pots: Mapping[str, float] | None = None,
    width: int | str = "container",
) -> dict[str, Any] | None:
    """Vega-Lite of a stage's response, measured points on it where there are any.

    ``pots``: rotations (0 to 1) other than those drawn.  None where the stage can't be solved and
    nothing was measured.  :class:`NetlistError` for a pot that is not there.
    """
    points = points_of(bench, drawing)
    low = min([BAND[0], *(point.hz for point in points)])
    high = max([BAND[1], *(point.hz for point in points)])
    curves: list[Curve] = []
    gain: float | None = None
    try:
        of = of_drawing(drawing, pots)
        hz = spaced(low, high, _PER_DECADE)
        curves.append(curve("as drawn", hz, of.response_db(hz)))
        gain = of.gain_db(drawing.gain_hz)
    except (NotSettled, SingularCircuit):
        pass
    except NetlistError:
        if pots:
            raise
    if points:
        curves.append(curve("measured", [p.hz for p in points], [p.db for p in points], "points"))
    if not curves:
        return None
    return response_spec(
        curves,
        title=drawing.title or drawing.id,
        describes=_told(drawing, gain, len(points)),
        tolerance_db=drawing.tolerance_db if gain is not None else None,
        width=width,
    )


def _told(drawing: StageDrawing, gain: float | None, measured: int) -> str:
    at = shown(drawing.gain_hz, "Hz")
    as_drawn = f", {gain:.1f} dB at {at} as drawn" if gain is not None else ""
    with_points = f", with {measured} measured points" if measured else ""
    return f"Gain over frequency of the stage {drawing.id}{as_drawn}{with_points}."
