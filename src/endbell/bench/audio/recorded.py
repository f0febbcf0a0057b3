"""What a sheet's recordings hold, measured once each: files are large, sheets asked often."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from ..readings import Recording
from .arrays import Floats
from .clipping import Clipped, refuse_clipped
from .errors import RecordingError
from .files import Signal, read, read_pair
from .noise import Noise, measure_noise
from .onset import steady
from .power import Step, steps_of
from .reverb import Decay, measure_decay
from .sweep import Response, Sweep, response
from .tone import Tone, measure_tone, refuse_quiet
from .tremolo import Tremolo, measure_tremolo

Found = Tone | tuple[Step, ...] | Response | Noise | Tremolo | Decay

_KEPT = 16
_PAIRS = 2  # whole files are held here, not figures


def measured(recording: Recording) -> tuple[Found, Clipped | None]:
    """What a recording holds, in parts of full scale, and what is suspected of its converter.

    A sine gives a Tone, level steps Steps, a sweep a Response, silence Noise, and so on; the kind
    'impedance' is the loudspeakers' (:func:`pair_of`).  Kept by the file's size and time.  Raises
    RecordingError, the file named, where it cannot be used; a clipped one never is.
    """
    keys = tuple(sorted((name, value) for name, value in recording.keys.items()))
    return _measured(recording.kind, recording.file, state_of(recording.file), keys)


def pair_of(recording: Recording) -> tuple[Signal, Signal]:
    """Both channels of a recording of two voltages, neither clipped. Raises RecordingError."""
    return _pair(recording.file, state_of(recording.file))


@lru_cache(_PAIRS)
def _pair(file: str, state: tuple[int, int]) -> tuple[Signal, Signal]:
    del state
    try:
        pair = read_pair(file)
        for signal in pair:
            refuse_clipped(signal.samples, signal.rate, signal.step)
            refuse_quiet(signal.samples)
    except RecordingError as error:
        raise error.at(Path(file).name) from error
    return pair


def number(keys: Mapping[str, float | str], name: str) -> float | None:
    """A further key of a recording as a number; None where it is not given.

    Raises RecordingError where it is no number above zero.
    """
    value = keys.get(name)
    if value is None or value == "":
        return None
    try:
        figure = float(value)
    except ValueError:
        figure = -1.0
    if not 0.0 < figure < float("inf"):
        raise RecordingError(f"{name} = {value!r}", f"Give {name} as a number above zero")
    return figure


def state_of(file: str) -> tuple[int, int]:
    """Size and time of a file: what was measured of it holds while they stay; 0 without one."""
    try:
        held = Path(file).stat()
    except OSError:
        return 0, 0
    return held.st_size, held.st_mtime_ns


@lru_cache(_KEPT)
def _measured(
    kind: str, file: str, state: tuple[int, int], keys: tuple[tuple[str, float | str], ...]
) -> tuple[Found, Clipped | None]:
    del state  # part of what it is kept by
    return measure_file(kind, file, dict(keys))


def measure_file(
    kind: str, file: Path | str, keys: Mapping[str, float | str]
) -> tuple[Found, Clipped | None]:
    """Read a file and measure what it holds, as :func:`measured` says, anew each time."""
    try:
        signal = read(file, keys.get("channel", ""))
        suspected = refuse_clipped(signal.samples, signal.rate, signal.step)
        if kind != "silence":
            refuse_quiet(signal.samples)
        return _by_kind(kind, signal.samples, signal.rate, keys), suspected
    except RecordingError as error:
        raise error.at(Path(file).name) from error


def _by_kind(kind: str, samples: Floats, rate: float, keys: Mapping[str, float | str]) -> Found:
    match kind:
        case "sine":
            return measure_tone(steady(samples, rate), rate, near=number(keys, "hz"))
        case "level steps":
            return steps_of(samples, rate, near=number(keys, "hz"))
        case "sweep":
            return response(samples, rate, _sweep(keys, rate))
        case "silence":
            return measure_noise(samples, rate)
        case "tremolo":
            return measure_tremolo(samples, rate)
        case "reverb":
            return measure_decay(samples, rate)
        case _:
            raise RecordingError(
                f"a recording of the kind {kind!r} is not known here",
                "Known are sine, level steps, sweep, silence, tremolo, reverb, impedance",
            )


def _sweep(keys: Mapping[str, float | str], rate: float) -> Sweep:
    usual = Sweep()
    return Sweep(
        number(keys, "hz_from") or usual.low,
        number(keys, "hz_to") or min(usual.high, 0.48 * rate),
        number(keys, "seconds") or usual.seconds,
    )
