"""Loudspeakers on a bench sheet.

Read of a recording of the kind 'impedance': ``series_ohm`` (the resistor, ohm), ``speaker`` (which
channel holds the voltage at the loudspeaker: left unless said), ``at`` (which loudspeaker).
Readings of ``speaker-impedance`` have the frequency as their place, or 'NAME@HERTZ'.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from ..audio.errors import RecordingError
from ..audio.recorded import number, pair_of, state_of
from ..audio.saying import read_line
from ..audio.scale import around
from ..limits import bounds_for
from ..lines import Bound, Judgement, Line
from ..readings import Bench, Reading, Recording
from ..telling import against, shown, tell, usable
from .curve import ImpedanceCurve, from_points, from_recording
from .fit import fitted
from .thiele_small import Parameters, classical

_NAMES = ("speaker-fs", "speaker-qms", "speaker-qes", "speaker-qts")


def lines(bench: Bench) -> tuple[Line, ...]:
    """Every loudspeaker line of the sheet: resistance, polarity, then what its curve tells."""
    found: list[Line] = []
    for at in _loudspeakers(bench):
        found += [_resistance(bench, at), _polarity(bench, at), *_curve_lines(bench, at)]
    return tuple(found)


def _loudspeakers(bench: Bench) -> tuple[str, ...]:
    """The places of all loudspeakers that were measured; '' where none was."""
    places = [
        at for name in ("speaker-re", "speaker-polarity", *_NAMES) for at in bench.places(name)
    ]
    places += [_split(at)[0] for at in bench.places("speaker-impedance")]
    places += [str(r.keys.get("at", "")) for r in bench.recordings if r.kind == "impedance"]
    return tuple(dict.fromkeys(places)) or ("",)


def _split(at: str) -> tuple[str, float | None]:
    """Loudspeaker and frequency of a place such as 'left@82' or '82'; None where it has none."""
    name, _, hertz = at.rpartition("@")
    try:
        found = float(hertz.lower().removesuffix("hz").strip())
    except ValueError:
        return at, None
    return name, found if found > 0.0 else None


def _resistance(bench: Bench, at: str) -> Line:
    reading = bench.reading("speaker-re", at)
    nominal = bench.circuit.load_ohm if not at else None
    bounds: tuple[Bound, ...] = bounds_for("speaker-re", bench.practice)
    if nominal:
        bounds += (around(nominal, "speaker-low", "speaker-high", f"{nominal:g} Ω nominal"),)
    value = reading.value if reading else None
    says = f"{shown(value, 'ohm')}: {against(value, bounds, 'ohm')}." if value is not None else ""
    return tell(
        bench, "speaker-re", at=at, value=value, bounds=bounds, says=says, readings=(reading,)
    )


def _polarity(bench: Bench, at: str) -> Line:
    reading = bench.reading("speaker-polarity", at)
    bounds = bounds_for("speaker-polarity", bench.practice)
    value = reading.value if reading else None
    if value is None:
        return tell(bench, "speaker-polarity", at=at, bounds=bounds)
    right = value > 0.0
    says = (
        "The cone moves out on plus."
        if right
        else "The cone moves in on plus: leads changed over, or a maker that wired it so; all "
        "loudspeakers of a cabinet have to be alike."
    )
    return tell(
        bench,
        "speaker-polarity",
        at=at,
        value=1.0 if right else -1.0,
        judgement=Judgement.WITHIN if right else Judgement.ODD,
        bounds=bounds,
        says=says,
        readings=(reading,),
    )


def _curve_lines(bench: Bench, at: str) -> tuple[Line, ...]:
    """Resonance and Q from the curve, a recording before readings of a meter."""
    readings = [
        r
        for place in bench.places("speaker-impedance")
        if _split(place)[0] == at and (r := bench.reading("speaker-impedance", place))
    ]
    recordings = [
        r for r in bench.recordings if r.kind == "impedance" and str(r.keys.get("at", "")) == at
    ]
    if not readings and not recordings:
        if not any(bench.reading(name, at) for name in _NAMES):
            return (tell(bench, "speaker-impedance", at=at),)
        return tuple(_typed(bench, name, at) for name in _NAMES)
    taken = tuple(readings) if not recordings else ()
    try:
        curve = (
            _recorded(max(recordings, key=lambda r: (r.after, r.n)))
            if recordings
            else (from_points(_points(readings)))
        )
        first, found = parameters(curve, usable(bench, "speaker-re", at))
    except RecordingError as error:
        return (tell(bench, "speaker-fs", at=at, says=str(error), readings=taken),)
    return tuple(_told(bench, name, at, first, found, taken) for name in _NAMES)


def parameters(curve: ImpedanceCurve, re: float | None) -> tuple[Parameters, Parameters]:
    """Thiele–Small parameters of a curve the classical way and by least squares.

    Raises RecordingError where the curve is none of a loudspeaker in free air.
    """
    return classical(curve, re), fitted(curve, re)


def _typed(bench: Bench, name: str, at: str) -> Line:
    if not at:
        return read_line(bench, name)
    reading = bench.reading(name, at)
    value = reading.value if reading else None
    return tell(bench, name, at=at, value=value, readings=(reading,))


def _told(
    bench: Bench,
    name: str,
    at: str,
    first: Parameters,
    found: Parameters,
    taken: tuple[Reading, ...],
) -> Line:
    attribute = name.removeprefix("speaker-")
    value, classic = (float(getattr(p, attribute)) for p in (found, first))
    unit = bench.kinds[name].unit
    bounds = bounds_for(name, bench.practice)
    says = f"{shown(value, unit)} (the classical way {shown(classic, unit)})"
    if found.misfit is not None:
        says += f", the curve fitted to {found.misfit:.1%}"
    return tell(
        bench,
        name,
        at=at,
        value=value,
        bounds=bounds,
        says=f"{says}: {against(value, bounds, unit)}.",
        works="Least squares over the curve with a lossy coil (Leach 2002); the classical way is "
        "Small (1972): Qms = fs √r0/(f2 − f1), Qes = Qms/(r0 − 1).",
        readings=taken,
    )


def _points(readings: list[Reading]) -> list[tuple[float, float]]:
    points: list[tuple[float, float]] = []
    for reading in readings:
        hertz = _split(reading.at)[1]
        if hertz is None:
            raise RecordingError(
                f"{reading.at!r} is no frequency",
                "Give the frequency as the place of each impedance: 82, or left@82",
            )
        points.append((hertz, float(reading.value or 0.0)))
    return points


def _recorded(recording: Recording) -> ImpedanceCurve:
    try:
        series = number(recording.keys, "series_ohm")
        if series is None:
            raise RecordingError(
                "the resistor in series is not named", "Give series_ohm as measured, in ohm"
            )
    except RecordingError as error:
        raise error.at(Path(recording.file).name) from error
    side = str(recording.keys.get("speaker", "left")).strip().lower()
    right = side in ("right", "2", "r")
    return _curve_of_file(recording.file, state_of(recording.file), series, right)


@lru_cache(8)
def _curve_of_file(file: str, state: tuple[int, int], series: float, right: bool) -> ImpedanceCurve:
    """The curve of a file, kept while its size and time stay."""
    del state
    try:
        first, second = pair_of(Recording(0, "impedance", file))
        if right:
            first, second = second, first
        return from_recording(first.samples, second.samples, first.rate, series)
    except RecordingError as error:
        raise error.at(Path(file).name) from error
