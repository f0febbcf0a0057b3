"""What a sheet gives for a stage: its gain at each frequency it was read at."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, isclose, log, log10

from ...dossier.values import Fault
from ..circuit import StageDrawing
from ..readings import Bench, Reading
from ..telling import usable
from .values import figure


@dataclass(frozen=True, slots=True)
class Point:
    """The gain of a stage at a frequency: dB with one standard deviation, and where it is from."""

    hz: float
    db: float
    sd: float
    readings: tuple[Reading, ...]


_NEPER = 20.0 / log(10.0)  # dB of a small relative change


def points_of(bench: Bench, drawing: StageDrawing) -> tuple[Point, ...]:
    """Every frequency at which the gain was read, in order of frequency.

    A gain read as such comes before one from two voltages.  An output read at a frequency where
    the input was not is held against the input at the gain's frequency: the source kept its level.
    """
    places = {
        at: hz
        for line in ("stage-gain", "stage-output-volts")
        for at in bench.places(line)
        if (hz := frequency(at, drawing)) is not None
    }
    found: dict[float, Point] = {}
    for at, hz in places.items():
        point = _gain(bench, at, hz) or _ratio(bench, drawing, at, hz)
        if point is not None:
            known = next((other for other in found if isclose(other, hz, rel_tol=1e-6)), hz)
            found.setdefault(known, point)
    return tuple(found[hz] for hz in sorted(found))


def at_gain(points: tuple[Point, ...], drawing: StageDrawing) -> Point | None:
    """The point at the frequency of the drawing's gain."""
    near = [p for p in points if isclose(p.hz, drawing.gain_hz, rel_tol=1e-3)]
    return near[0] if near else None


def frequency(at: str, drawing: StageDrawing) -> float | None:
    """The frequency that a place of the stage names; None for another stage or no frequency.

    >>> drawing = StageDrawing("driver", "", "", "in", "out")
    >>> frequency("driver@4k", drawing), frequency("driver", drawing), frequency("tone@50", drawing)
    (4000.0, 1000.0, None)
    """
    name, marked, written = at.partition("@")
    if name != drawing.id:
        return None
    if not marked:
        return drawing.gain_hz
    value = figure(written, "Hz")
    return None if isinstance(value, Fault) or not value > 0.0 else value


def _gain(bench: Bench, at: str, hz: float) -> Point | None:
    value, reading = usable(bench, "stage-gain", at), bench.reading("stage-gain", at)
    if value is None or reading is None:
        return None
    return Point(hz, value, reading.spread, (reading,))


def _ratio(bench: Bench, drawing: StageDrawing, at: str, hz: float) -> Point | None:
    out, out_reading = (
        usable(bench, "stage-output-volts", at),
        bench.reading("stage-output-volts", at),
    )
    for place in (at, drawing.id):
        into, in_reading = (
            usable(bench, "stage-input-volts", place),
            bench.reading("stage-input-volts", place),
        )
        if into and out and in_reading and out_reading:
            sd = _NEPER * hypot(out_reading.spread / out, in_reading.spread / into)
            return Point(hz, 20.0 * log10(out / into), sd, (in_reading, out_reading))
    return None
