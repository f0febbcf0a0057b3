"""Lines of a sheet about the output: load, power, distortion, output impedance, damping."""

from __future__ import annotations

from math import sqrt

from ..limits import bounds_for
from ..lines import Bound, Judgement, Line
from ..readings import Bench, Recording
from ..telling import against, shown, tell, usable
from .errors import RecordingError
from .impedance import Output, output_impedance
from .levels import watts
from .power import Step, power_at
from .recorded import measured
from .rules import rule
from .saying import heard, read_line
from .scale import around, last, load_of, scale_of
from .tone import Tone

_DEFINITION = (
    "Power where the total harmonic distortion, relative to the whole signal, rises through "
    "{limit:.0%} (IEC 60268-3, distortion-limited output power, from memory); P = U²/R."
)


def load_line(bench: Bench) -> Line:
    """The dummy load, before anything is driven into it."""
    reading = bench.reading("dummy-load-ohm")
    value = usable(bench, "dummy-load-ohm")
    nominal = bench.circuit.load_ohm
    bounds = _load_bounds(nominal) or bounds_for("dummy-load-ohm", bench.practice)
    if reading is None or reading.value is None:
        says = (
            f"Measure the load before it is used; {nominal:g} Ω is called for." if nominal else ""
        )
        return tell(bench, "dummy-load-ohm", bounds=bounds, expected=nominal, says=says)
    says = "" if value is None else f"{shown(value, 'ohm')}: {against(value, bounds, 'ohm')}."
    return tell(
        bench,
        "dummy-load-ohm",
        value=reading.value,
        bounds=bounds,
        expected=nominal,
        says=says,
        readings=(reading,),
    )


def _load_bounds(nominal: float | None) -> tuple[Bound, ...]:
    if not nominal:
        return ()
    off = rule("load-off")
    return (
        Bound(
            nominal * (1.0 - off),
            nominal * (1.0 + off),
            f"{nominal:g} Ω ± {off:.0%}, what the amp is made for",
            "common practice, no source",
            "common practice, no source",
        ),
    )


def output_watt(bench: Bench) -> Line:
    """Output power: from level steps, from V rms at the load by a meter, or as it was read."""
    rated = bench.circuit.rated_watt
    bounds: tuple[Bound, ...] = (
        (around(rated, "rated-share", "rated-high", f"{rated:g} W"),) if rated else ()
    )
    bounds += bounds_for("output-watt", bench.practice)
    recording = last(bench, "level steps")
    volts = bench.reading("output-volts")
    if recording is not None:
        value, says, works = _onset(bench, recording)
    elif volts is not None and (u := usable(bench, "output-volts")) and (load := load_of(bench)):
        value = watts(u, load[0])
        says = f"{shown(value, 'W')} from {shown(u, 'V')} at {shown(load[0], 'ohm')}."
        works = f"P = U²/R, V rms just before clipping by the meter; {load[1]}."
    else:
        return read_line(bench, "output-watt", bounds, rated)
    if value is not None and bounds:
        says = f"{says.rstrip('.')}: {against(value, bounds, 'W')}."
    return tell(
        bench,
        "output-watt",
        value=value,
        bounds=bounds,
        expected=rated,
        says=says,
        works=works,
        readings=(volts,) if recording is None else (),
    )


def output_watt_found(bench: Bench) -> float | None:
    """Output power (W) of the sheet, where it is known, for what is said in relation to it."""
    line = output_watt(bench)
    return line.value if line.judgement is not Judgement.IMPOSSIBLE else None


def _onset(bench: Bench, recording: Recording) -> tuple[float | None, str, str]:
    scale, load = scale_of(bench, recording), load_of(bench, recording)
    limit = rule("onset-thd")
    works = _DEFINITION.format(limit=limit)
    if scale is None or load is None:
        lacks = "volts of full scale" if scale is None else "the load in ohm"
        return None, f"Recording {recording.n} cannot be told in watts without {lacks}.", works
    try:
        steps, suspected = measured(recording)
        if not isinstance(steps, tuple):
            return None, "", works
        value = power_at(steps, limit, load[0], scale.volts)
    except RecordingError as error:
        return None, str(error), works
    says = f"{shown(value, 'W')} at {limit:.0%} distortion in {shown(load[0], 'ohm')}"
    low = rule("onset-thd-low")
    try:
        says += f", {shown(power_at(steps, low, load[0], scale.volts), 'W')} at {low:.0%}"
    except RecordingError:
        says += f", above {low:.0%} at every level"
    return value, heard(f"{says}.", suspected), f"{works} {scale.how.capitalize()}; {load[1]}."


def distortion_lines(bench: Bench) -> tuple[Line, Line]:
    """THD and THD+N, from the last sine; from half the power of level steps; or as read."""
    sine, steps = last(bench, "sine"), last(bench, "level steps")
    if sine is None and steps is None:
        return tuple(  # type: ignore[return-value]
            read_line(bench, line, bounds_for(line, bench.practice))
            for line in ("thd", "thd-noise")
        )
    recording = sine or steps
    assert recording is not None
    try:
        found, suspected = measured(recording)
    except RecordingError as error:
        return (
            tell(bench, "thd", says=str(error)),
            tell(bench, "thd-noise", says=str(error)),
        )
    if isinstance(found, Tone):
        level = _level(bench, recording, sqrt(found.rms**2 + found.distortion**2))
        thd = _fraction(bench, "thd", found.thd, heard(_harmonics(found) + level, suspected), _THD)
        noise = _fraction(bench, "thd-noise", found.thd_noise, level.lstrip(", "), _THD_NOISE)
        return thd, noise
    assert isinstance(found, tuple)
    at = _half_power(found)
    level = _level(bench, recording, at.rms)
    return (
        _fraction(bench, "thd", at.thd, heard(level.lstrip(", "), suspected), _THD),
        read_line(bench, "thd-noise", bounds_for("thd-noise", bench.practice)),
    )


_THD = (
    "Rms of the harmonics over rms of fundamental and harmonics together (IEC 60268-3, from "
    "memory); lobes of a Kaiser window summed, the noise under them taken off."
)
_THD_NOISE = (
    "Rms of everything but the fundamental from 20 Hz to 20 kHz over the rms of the whole "
    "(IEC 60268-3, from memory); hum counts."
)


def _fraction(bench: Bench, line: str, value: float, says: str, works: str) -> Line:
    bounds = bounds_for(line, bench.practice)
    # one word for the figure everywhere: per cent
    said = f"{value * 100:.3g} %"
    judged = against(value, bounds, "1") if bounds else "there is no limit to hold it against"
    return tell(
        bench,
        line,
        value=value,
        bounds=bounds,
        says=f"{said} {says.rstrip('.')}: {judged}.".replace(" :", ":"),
        works=works,
    )


def _harmonics(tone: Tone) -> str:
    named = [
        f"{order}.: {h / tone.rms * 100:.2g} %"
        for order, h in enumerate(tone.harmonics[:4], start=2)
        if h > 1e-3 * tone.distortion
    ]
    heads = f"at {tone.hertz:.1f} Hz"
    return f"{heads} (harmonics {', '.join(named)})" if named else heads


def _level(bench: Bench, recording: Recording, rms: float) -> str:
    scale, load = scale_of(bench, recording), load_of(bench, recording)
    if scale is None:
        return ", the level not calibrated"
    volts = rms * scale.volts
    if load is None:
        return f", {shown(volts, 'V')} at the load"
    return f", {shown(volts, 'V')} or {shown(watts(volts, load[0]), 'W')} at the load"


def _half_power(steps: tuple[Step, ...]) -> Step:
    """The level nearest to half the power at the onset of clipping (or of the highest)."""
    try:
        most = sqrt(power_at(steps, rule("onset-thd"), 1.0))
    except RecordingError:
        most = max(step.rms for step in steps)
    return min(steps, key=lambda step: abs(step.rms - most * sqrt(0.5)))


def impedance_lines(bench: Bench) -> tuple[Line, Line]:
    """Output impedance from two loads, and the damping factor at the nominal one."""
    points = _two_loads(bench)
    resting = [bench.reading("load-volts", at) for at in bench.places("load-volts")]
    works = "Ro = R1 R2 (U2 − U1)/(U1 R2 − U2 R1), the amp as a source with a resistance."
    if len(points) < 2:
        ohm = read_line(bench, "output-ohm", bounds_for("output-ohm", bench.practice))
        value = usable(bench, "output-ohm")
        source = None if value is None else Output(value)
    else:
        try:
            source = output_impedance(points[0], points[-1])
        except RecordingError as error:
            return (
                tell(bench, "output-ohm", judgement=Judgement.ODD, says=str(error), works=works),
                tell(bench, "damping-factor"),
            )
        says = (
            f"{shown(source.ohm, 'ohm')} between loads of {points[0][0]:g} and {points[-1][0]:g} Ω."
        )
        ohm = tell(
            bench,
            "output-ohm",
            value=source.ohm,
            bounds=bounds_for("output-ohm", bench.practice),
            says=says,
            works=works,
            readings=tuple(resting),
        )
    load = bench.circuit.load_ohm or usable(bench, "dummy-load-ohm")
    if source is None or not load or source.ohm <= 0.0:
        return ohm, read_line(bench, "damping-factor", bounds_for("damping-factor", bench.practice))
    bounds = bounds_for("damping-factor", bench.practice)
    factor = source.damping(load)
    says = f"{factor:.2g} at {load:g} Ω: {against(factor, bounds, '1')}."
    damping = tell(
        bench,
        "damping-factor",
        value=factor,
        bounds=bounds,
        says=says,
        works="Load over output impedance.",
        readings=tuple(resting),
    )
    return ohm, damping


def _two_loads(bench: Bench) -> list[tuple[float, float]]:
    """(ohm, V rms), rising: read at places that are loads, or of sines for 'output impedance'."""
    points: dict[float, float] = {}
    for recording in bench.recordings:
        if recording.keys.get("for") != "output impedance" or not recording.load_ohm:
            continue
        scale = scale_of(bench, recording)
        try:
            tone, _ = measured(recording)
        except RecordingError:
            continue
        if scale is not None and isinstance(tone, Tone):
            points[recording.load_ohm] = tone.rms * scale.volts
    for at in bench.places("load-volts"):
        try:
            ohm = float(at.lower().replace("ohm", "").replace("Ω", "").strip())
        except ValueError:
            continue
        volts = usable(bench, "load-volts", at)
        if volts and 0.0 < ohm < float("inf"):
            points[ohm] = volts
    return sorted(points.items())


def load_volts_lines(bench: Bench) -> tuple[Line, ...]:
    """V rms at each load, as read; at the nominal one where none was."""
    places = bench.places("load-volts")
    if not places and not any(r.keys.get("for") == "output impedance" for r in bench.recordings):
        return (tell(bench, "load-volts"),)
    found: list[Line] = []
    for at in places:
        reading = bench.reading("load-volts", at)
        value = reading.value if reading else None
        says = f"{shown(value, 'V')} at {at} Ω." if value is not None else ""
        found.append(tell(bench, "load-volts", at=at, value=value, says=says, readings=(reading,)))
    return tuple(found)
