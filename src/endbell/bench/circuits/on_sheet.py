"""Lines of the stages: the gain of each against its drawing, and its response."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import hypot

from ..circuit import Circuit, StageDrawing
from ..lines import Bound, Judgement, Line
from ..readings import Bench
from ..telling import against, shown, tell
from ..valves.tolerance import assumed
from .cards import NetlistError
from .compare import compare, tilt
from .direct import NotSettled
from .mna import SingularCircuit
from .readings import Point, at_gain, points_of
from .response import Stage, of_drawing
from .tolerance import gain_spread, usual_of

# What is wrong at which end of the band, when a stage's parts are no longer what is drawn
_ENDS = {
    "low": "at the low end: a coupling or bypass capacitor, or the resistor after it",
    "high": "at the high end: a load in parallel, a lead, a treble capacitor",
    "both ends": "at both ends of the band",
    "middle": "in the middle of the band: a part of a tone network",
    "all over": "all over the band: are the pots set as drawn?",
}


def lines(bench: Bench) -> tuple[Line, ...]:
    """Signal, gain and response of every stage that the circuit draws, stage by stage."""
    return tuple(line for drawing in bench.circuit.stages for line in _stage(bench, drawing))


@dataclass(frozen=True, slots=True)
class _Computed:
    """A stage solved: ``gain`` (dB), ``sd`` of it from amp to amp, ``most`` the part that
    contributes most; or ``why`` it can't be solved."""

    of: Stage | None = None
    gain: float | None = None
    sd: float = 0.0
    most: str = ""
    why: str = ""


@lru_cache(128)
def _computed(drawing: StageDrawing) -> _Computed:
    try:
        of = of_drawing(drawing)
        sd, most = gain_spread(of, drawing.gain_hz)
        return _Computed(of, of.gain_db(drawing.gain_hz), sd, most)
    except (NetlistError, NotSettled, SingularCircuit) as error:
        return _Computed(why=str(error))


def _stage(bench: Bench, drawing: StageDrawing) -> tuple[Line, ...]:
    found = _computed(drawing)
    points = points_of(bench, drawing)
    out = [
        _volts(bench, drawing, line, found)
        for line in ("stage-input-volts", "stage-output-volts")
        if bench.reading(line, drawing.id) is not None
    ]
    return (*out, _gain(bench, drawing, found, points), _response(bench, drawing, found, points))


def _volts(bench: Bench, drawing: StageDrawing, line: str, found: _Computed) -> Line:
    value = bench.value(line, drawing.id)
    into = bench.value("stage-input-volts", drawing.id)
    gain = found.gain if found.gain is not None else drawing.gain_db
    output = line == "stage-output-volts"
    expected = into * _ratio(gain) if output and gain is not None and into else None
    node = drawing.out_node if output else drawing.source_node
    says = f"{shown(value or 0.0, 'V')} at the node {node} of the stage {drawing.id}."
    return tell(
        bench,
        line,
        at=drawing.id,
        value=value,
        judgement=Judgement.NO_LIMIT,
        expected=expected,
        says=says,
        readings=(bench.reading(line, drawing.id),),
    )


def _ratio(db: float) -> float:
    return 10.0 ** (db / 20.0)


def _gain(bench: Bench, drawing: StageDrawing, found: _Computed, points: tuple[Point, ...]) -> Line:
    point = at_gain(points, drawing)
    bound = _bound(bench.circuit, drawing, found, point)
    bounds = () if bound is None else (bound,)
    expected = drawing.gain_db if drawing.gain_db is not None else found.gain
    at, into = shown(drawing.gain_hz, "Hz"), usual_of("test-input")
    if point is not None:
        says = f"The stage {drawing.id} gives {point.db:.1f} dB at {at}, "
        says += f"{against(point.db, bounds, 'dB')}."
    else:
        says = f"Measure the gain of the stage {_named(drawing)}: {shown(into, 'V')} of {at} in at "
        says += f"the node {drawing.source_node}, read at the node {drawing.out_node}"
        if expected is not None:
            says += f"; about {expected:.1f} dB, {shown(into * _ratio(expected), 'V')}"
        says += "."
    return tell(
        bench,
        "stage-gain",
        at=drawing.id,
        value=point.db if point else None,
        bounds=bounds,
        expected=expected,
        spread=found.sd or None,
        says=says,
        works=_works(found, point),
        readings=point.readings if point else (),
    )


def _named(drawing: StageDrawing) -> str:
    return f"{drawing.id} ({drawing.title})" if drawing.title else drawing.id


def _works(found: _Computed, point: Point | None) -> str:
    told = ["20 log10 of output over input"] if point and len(point.readings) > 1 else []
    if found.gain is not None:
        told.append(
            f"the netlist gives {found.gain:.1f} dB with the valves at their own bias (modified "
            f"nodal analysis); from amp to amp {found.sd:.1f} dB (sd)"
            + (f", most of it from {found.most}" if found.most else "")
        )
    elif found.why:
        told.append(f"the netlist can't be solved: {found.why}")
    return "; ".join(told)


def _bound(
    circuit: Circuit, drawing: StageDrawing, found: _Computed, point: Point | None
) -> Bound | None:
    """About the drawing's gain, else the computed one; as wide as parts and valve stray."""
    centre = drawing.gain_db if drawing.gain_db is not None else found.gain
    if centre is None:
        return None
    half = _half(drawing, found.sd, point.sd if point else 0.0)
    if drawing.gain_db is not None:
        title = f"the drawing's {centre:.1f} dB ± {half:.1f} dB"
        return Bound(centre - half, centre + half, title, circuit.source, circuit.confidence)
    title = f"{centre:.1f} dB ± {half:.1f} dB by the stage's netlist"
    source = f"the netlist solved; valves by their models; parts: {assumed()['resistor'].source}"
    return Bound(centre - half, centre + half, title, source, "computed")


def _half(drawing: StageDrawing, sd: float, reading_sd: float) -> float:
    return max(drawing.tolerance_db, assumed()["coverage"].value * hypot(sd, reading_sd))


def _response(
    bench: Bench, drawing: StageDrawing, found: _Computed, points: tuple[Point, ...]
) -> Line:
    if found.of is None or len(points) < 2:
        says = f"Follows from the gain of {drawing.id} at other frequencies: {drawing.id}@100, …"
        if found.of is None:
            says = f"The response of {drawing.id} can't be worked out: {found.why}."
        return tell(bench, "stage-response", at=drawing.id, says=says)
    held = compare(
        found.of, [p.hz for p in points], [p.db for p in points], align_at=drawing.gain_hz
    )
    sd = max(gain_spread(found.of, float(hz))[0] for hz in held.hz)
    half = _half(drawing, sd, max(p.sd for p in points))
    bound = Bound(
        -half,
        half,
        f"the response of the stage as drawn ± {half:.1f} dB",
        f"the netlist solved; {bench.circuit.source}",
        "computed",
    )
    says = (
        f"The stage {drawing.id}: {held.worst:+.1f} dB at {shown(held.worst_hz, 'Hz')} against the "
        f"stage as drawn, levelled at {shown(drawing.gain_hz, 'Hz')}"
    )
    if abs(held.worst) > half:
        says += f"; off {_ENDS.get(tilt(held), 'there')}"
    return tell(
        bench,
        "stage-response",
        at=drawing.id,
        value=held.worst,
        bounds=(bound,),
        expected=0.0,
        spread=sd,
        says=f"{says}.",
        works=f"{len(points)} points, {held.rms:.2f} dB rms; modified nodal analysis",
        readings=tuple(reading for p in points for reading in p.readings),
    )
