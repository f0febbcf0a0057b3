"""From parts of full scale to volts, watts and dB below the rated output of the amp."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from ..lines import Bound
from ..readings import Bench, Recording
from ..telling import usable
from .errors import RecordingError
from .levels import full_scale, volts_of_watts
from .recorded import measured, number
from .rules import rule
from .tone import Tone


@dataclass(frozen=True, slots=True)
class Scale:
    """``volts``: at the load that a full-scale sample stands for; ``how``: known from what."""

    volts: float
    how: str


def last(bench: Bench, kind: str, *, serves: str = "") -> Recording | None:
    """The last recording of a kind, those after a repair before those from before it.

    ``serves``: what its key 'for' says; without it only recordings for nothing in particular.
    """
    of_kind = [r for r in bench.recordings if r.kind == kind and r.keys.get("for", "") == serves]
    return max(of_kind, key=lambda r: (r.after, r.n), default=None)


def scale_of(bench: Bench, recording: Recording) -> Scale | None:
    """What full scale of a recording is in volts; None where nothing calibrates it.

    Its own ``full_scale``; or ``meter_volts``, V rms by the meter while this tone was recorded; or
    the same of the last sine that has one, the interface untouched since.
    """
    if recording.full_scale:
        return Scale(recording.full_scale, "full scale as the sheet gives it")
    own = _by_meter(recording)
    if own is not None:
        return own
    for other in sorted(bench.recordings, key=lambda r: (r.after == recording.after, r.n))[::-1]:
        found = Scale(other.full_scale, "") if other.full_scale else _by_meter(other)
        if found is not None:
            how = f"calibrated by recording {other.n}, the interface untouched since"
            return Scale(found.volts, how)
    return None


def load_of(bench: Bench, recording: Recording | None = None) -> tuple[float, str] | None:
    """The load (ohm) and where it is known from; None where nothing says."""
    if recording is not None and recording.load_ohm:
        return recording.load_ohm, "load of the recording"
    measured_load = usable(bench, "dummy-load-ohm")
    if measured_load:
        return measured_load, "dummy load as measured"
    if bench.circuit.load_ohm:
        return bench.circuit.load_ohm, "nominal load, not measured"
    return None


def rated_volts(bench: Bench) -> tuple[float, str] | None:
    """V rms of the rated output at its load, and in words; None where the circuit has none."""
    watt, ohm = bench.circuit.rated_watt, bench.circuit.load_ohm
    if not watt or not ohm:
        return None
    return volts_of_watts(watt, ohm), f"rated output, {watt:g} W in {ohm:g} ohm"


def around(expected: float, low: str, high: str, unit_words: str) -> Bound:
    """A bound of shares of what is expected; the shares are rules."""
    return Bound(
        low=expected * rule(low),
        high=expected * rule(high),
        title=f"{rule(low):.0%} to {rule(high):.0%} of {unit_words}",
        source="common practice, no source",
        confidence="common practice, no source",
    )


def _by_meter(recording: Recording) -> Scale | None:
    if recording.kind != "sine":
        return None
    try:
        volts = number(recording.keys, "meter_volts")
        if volts is None:
            return None
        tone, _ = measured(recording)
    except RecordingError:
        return None
    if not isinstance(tone, Tone):
        return None
    whole = sqrt(tone.rms**2 + tone.distortion**2)
    return Scale(full_scale(volts, whole), "calibrated by the meter on this tone")
