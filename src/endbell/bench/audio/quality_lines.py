"""Lines of a sheet about what comes with the signal: hum, noise, response, tremolo, reverb."""

from __future__ import annotations

import numpy as np

from ..circuit import Circuit
from ..limits import bounds_for
from ..lines import Judgement, Line
from ..readings import Bench
from ..telling import against, shown, tell
from .arrays import db
from .errors import RecordingError
from .levels import volts_of_watts
from .noise import Noise
from .output_lines import output_watt_found
from .recorded import measured
from .reverb import Decay
from .rules import rule
from .saying import heard, read_line
from .scale import last, load_of, rated_volts, scale_of
from .sweep import Response
from .tremolo import Tremolo


def noise_lines(bench: Bench) -> tuple[Line, ...]:
    """Hum, noise and A-weighted noise, in dB relative to the rated (or found) output."""
    names = ("hum", "noise", "noise-a")
    recording = last(bench, "silence")
    if recording is None:
        return tuple(read_line(bench, n, bounds_for(n, bench.practice)) for n in names)
    try:
        noise, suspected = measured(recording)
    except RecordingError as error:
        return tuple(tell(bench, n, says=str(error)) for n in names)
    assert isinstance(noise, Noise)
    scale, reference = scale_of(bench, recording), _reference(bench)
    if scale is None:
        says = f"Recording {recording.n} cannot be told in volts: give full_scale or meter_volts."
        return tuple(tell(bench, n, says=says) for n in names)
    rms = {"hum": noise.hum_rms, "noise": noise.all, "noise-a": noise.weighted}
    found: list[Line] = []
    for name in names:
        volts = rms[name] * scale.volts
        told = f"{shown(volts, 'V')} {_words(name, noise)}"
        if name == "hum" and noise.mains is None:
            found.append(_no_hum(bench))
        elif reference is None:
            says = f"{told}; the rated output is not known, so there is no ratio to give."
            found.append(tell(bench, name, says=says))
        else:
            value = db(volts / reference[0])
            bounds = bounds_for(name, bench.practice)
            says = f"{told}, {value:.1f} dB to {reference[1]}: {against(value, bounds, 'dB')}."
            found.append(
                tell(
                    bench,
                    name,
                    value=value,
                    bounds=bounds,
                    says=heard(says, suspected),
                    works=f"{_WORKS[name]} {scale.how.capitalize()}.",
                )
            )
    return (*found, *_hum_order(bench, noise, found[0]))


def _hum_order(bench: Bench, noise: Noise, hum: Line) -> tuple[Line, ...]:
    """Whether too much hum is that of the mains or of a rectifier, where nobody has typed it."""
    name = "hum-order"
    if name not in bench.kinds or bench.places(name) or hum.value is None:
        return ()
    works = "Which of the first two harmonics of the mains is the stronger in the recording."
    if noise.mains is None or hum.judgement is not Judgement.HIGH:
        says = "There is no hum to speak of."
        return (tell(bench, name, value=0.0, judgement=Judgement.WITHIN, says=says, works=works),)
    twice = noise.hum[1] > noise.hum[0]
    judgement = Judgement.HIGH if twice else Judgement.LOW
    where = "twice the mains, as a rectifier leaves it" if twice else "the mains frequency itself"
    share = max(noise.hum[0], noise.hum[1]) / noise.hum_rms
    says = f"The hum is at {where}: {share:.0%} of its voltage."
    value = 2.0 if twice else 1.0
    return (tell(bench, name, value=value, judgement=judgement, says=says, works=works),)


_WORKS = {
    "hum": "Rms of the harmonics of the mains, which is found in the recording, to the 20th.",
    "noise": "Rms from 20 Hz to 20 kHz, hum and all; turned round it is the signal to noise ratio.",
    "noise-a": "Rms through A-weighting (IEC 61672-1), hum and all.",
}


def _words(name: str, noise: Noise) -> str:
    if name == "noise":
        return "of noise from 20 Hz to 20 kHz"
    if name == "noise-a":
        return "of noise, A-weighted"
    if noise.mains is None:
        return "of hum"
    order = int(np.argmax(noise.hum)) + 1
    return f"of hum, the most of it at {order * noise.mains:.1f} Hz (mains {noise.mains:.2f} Hz)"


def _no_hum(bench: Bench) -> Line:
    lowest = bench.kinds["hum"].lowest
    bounds = bounds_for("hum", bench.practice)
    says = "No hum of 50 or 60 Hz mains stands out of the noise."
    return tell(bench, "hum", value=lowest, bounds=bounds, says=says, works=_WORKS["hum"])


def _reference(bench: Bench) -> tuple[float, str] | None:
    rated = rated_volts(bench)
    if rated is not None:
        return rated
    watt, load = output_watt_found(bench), load_of(bench)
    if watt and load:
        return volts_of_watts(watt, load[0]), f"the output found, {shown(watt, 'W')}"
    return None


def response_line(bench: Bench) -> Line:
    """How far the response departs from that at 1 kHz, from the lowest to the highest note."""
    recording = last(bench, "sweep")
    if recording is None:
        return read_line(bench, "response-flatness")
    through = str(recording.keys.get("through", ""))
    bounds = bounds_for("response-flatness", bench.practice, through or "whole amp")
    try:
        found, suspected = measured(recording)
    except RecordingError as error:
        return tell(bench, "response-flatness", bounds=bounds, says=str(error))
    assert isinstance(found, Response)
    low = max(rule("flat-low"), found.sweep.told[0])
    high = min(rule("flat-high"), found.sweep.told[1])
    if not low < 1000.0 < high:
        says = "The sweep does not hold 1 kHz: sweep from 10 Hz to 20 kHz or more."
        return tell(bench, "response-flatness", says=says)
    hertz = np.geomspace(low, high, 200)
    level = found.decibels(hertz)
    most = int(np.argmax(np.abs(level)))
    value = float(abs(level[most]))
    judged = (
        against(value, bounds, "dB")
        if bounds
        else "tone controls and voicing included, so there is no limit to hold it against"
    )
    says = (
        f"{level[most]:+.1f} dB at {hertz[most]:.0f} Hz to 1 kHz, from {low:.0f} Hz to "
        f"{high:.0f} Hz; {judged}."
    )
    works = "Exponential sweep, Farina (2000), its harmonics set apart in time"
    if abs(found.clock) > 2e-6:
        works += f"; the clocks differ by {found.clock * 1e6:.0f} parts in a million, allowed for"
    return tell(
        bench,
        "response-flatness",
        value=value,
        bounds=bounds,
        says=heard(says, suspected),
        works=f"{works}.",
    )


def has_tremolo(circuit: Circuit) -> bool:
    """Whether the circuit has a tremolo."""
    return any(seat.use == "tremolo" for seat in circuit.seats)


def has_reverb(circuit: Circuit) -> bool:
    """Whether the circuit has a reverb."""
    return any(seat.use.startswith("reverb") for seat in circuit.seats) or any(
        winding.part == "rt" or winding.use == "reverb" for winding in circuit.windings
    )


def tremolo_lines(bench: Bench) -> tuple[Line, ...]:
    """Rate and depth, where the circuit has a tremolo or one was measured."""
    names = ("tremolo-rate", "tremolo-depth")
    recording = last(bench, "tremolo")
    if recording is None:
        if not has_tremolo(bench.circuit) and not any(bench.places(n) for n in names):
            return ()
        return tuple(read_line(bench, n, bounds_for(n, bench.practice)) for n in names)
    try:
        found, suspected = measured(recording)
    except RecordingError as error:
        return tuple(tell(bench, n, says=str(error)) for n in names)
    assert isinstance(found, Tremolo)
    rates, depths = (bounds_for(n, bench.practice) for n in names)
    rate = f"{found.hertz:.2f} Hz: {against(found.hertz, rates, 'Hz')}."
    depth = (
        f"{found.depth * 100:.0f} %, loudest over softest {found.depth_db:.1f} dB: "
        f"{against(found.depth, depths, '1')}."
    )
    works = "Strongest line of the envelope of the tone; depth of a mean turn of it."
    return (
        tell(
            bench,
            names[0],
            value=found.hertz,
            bounds=rates,
            says=heard(rate, suspected),
            works=works,
        ),
        tell(bench, names[1], value=found.depth, bounds=depths, says=depth, works=works),
    )


def reverb_lines(bench: Bench) -> tuple[Line, ...]:
    """Decay of the reverb, where the circuit has one or it was measured."""
    recording = last(bench, "reverb")
    bounds = bounds_for("reverb-decay", bench.practice)
    if recording is None:
        if not has_reverb(bench.circuit) and not bench.places("reverb-decay"):
            return ()
        return (read_line(bench, "reverb-decay", bounds),)
    try:
        found, suspected = measured(recording)
    except RecordingError as error:
        return (tell(bench, "reverb-decay", bounds=bounds, says=str(error)),)
    assert isinstance(found, Decay)
    says = f"{found.seconds:.2f} s for 60 dB, by {found.by}: {against(found.seconds, bounds, 's')}."
    works = "Schroeder's backward integration (1965), ranges of ISO 3382, the noise taken off."
    line = tell(
        bench,
        "reverb-decay",
        value=found.seconds,
        bounds=bounds,
        says=heard(says, suspected),
        works=works,
    )
    return (line,)
