"""Decay of a reverb: Schroeder's backward integration, T20 and T30 as times for 60 dB.

M. R. Schroeder, 'New method of measuring reverberation time', J. Acoust. Soc. Am. 37 (1965); the
ranges of evaluation are those of ISO 3382 (from memory): from 5 dB below the start to 25 (T20) or
35 dB (T30), extended to 60.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np

from .arrays import Floats, grid, straight
from .errors import RecordingError
from .rules import rule

_FRAME = 0.01  # s
_RANGES = (("T30", -5.0, -35.0), ("T20", -5.0, -25.0))


@dataclass(frozen=True, slots=True)
class Decay:
    """``seconds``: time of a decay by 60 dB; ``by``: 'T30' or 'T20'; ``room``: dB from the start to
    the noise; ``curve``: decay in dB every ``step`` seconds from its start.
    """

    seconds: float
    by: str
    room: float
    step: float
    curve: Floats


def measure_decay(samples: Floats, rate: float) -> Decay:
    """Decay after a click, a burst or a tone that stops.

    It starts where the level is highest for the last time.  The noise at the end is subtracted, and
    the integral begun where the decay comes near to it, with what an even decay still holds behind
    that place added.  Raises RecordingError where the decay does not clear the noise by 35 dB.
    """
    energy = _energy(samples, rate)
    tail = energy[-max(energy.size // 10, 5) :]
    noise = float(np.median(tail))
    start = _start(energy)
    decay = energy[start:]
    room = 10.0 * float(np.log10(max(decay[0], 1e-300) / max(noise, 1e-300)))
    margin = rule("decay-margin")
    for name, high, low in _RANGES:
        if room < -low + margin:
            continue
        end = _meets(decay, noise)
        curve = _integrated(decay[:end] - noise)
        seconds = _fitted(curve, high, low)
        if seconds is not None:
            return Decay(seconds, name, room, _FRAME, curve)
    raise RecordingError(
        f"the decay can be followed for {max(room, 0.0):.0f} dB only",
        f"Record it louder or with less hum: {25 + margin:.0f} dB above the noise are needed, and "
        "two seconds of rest after it",
    )


def _energy(samples: Floats, rate: float) -> Floats:
    """Mean square of every hundredth of a second, without what is constant."""
    n = max(int(_FRAME * rate), 1)
    count = samples.size // n
    if count < 20:
        raise RecordingError("it is too short", "Record the decay until it cannot be heard")
    parts = (samples[: count * n] - float(np.median(samples))).reshape(count, n)
    return np.einsum("ij,ij->i", parts, parts) / n


def _start(energy: Floats) -> int:
    """The last place within 1 dB of the highest level."""
    return int(np.flatnonzero(energy >= 0.8 * energy.max())[-1])


def _meets(decay: Floats, noise: float) -> int:
    """Where the smoothed decay comes within 6 dB of the noise."""
    wide = min(5, decay.size)
    smooth = np.convolve(decay, np.ones(wide) / wide, mode="same")
    under = np.flatnonzero(smooth <= 4.0 * noise)
    return int(under[0]) if under.size and under[0] > 3 else decay.size


def _integrated(decay: Floats) -> Floats:
    """Schroeder's integral in dB, 0 at the start, with the rest of an even decay behind its end."""
    held = np.maximum(decay, 0.0)
    last = held.size // 2
    late = np.log(np.maximum(held[last:], 1e-300))
    known = held[last:] > 0.0
    beyond = 0.0
    if known.sum() > 3:
        slope, at = straight(grid(0, late.size)[known], late[known])
        if slope < 0.0:
            beyond = float(np.exp(at + slope * late.size) / -np.expm1(slope))
    left = np.cumsum(held[::-1])[::-1] + beyond
    return 10.0 * np.log10(np.maximum(left, 1e-300) / left[0])


def _fitted(curve: Floats, high: float, low: float) -> float | None:
    """Seconds for 60 dB by a straight line through the curve between two levels."""
    inside = np.flatnonzero((curve <= high) & (curve >= low))
    if inside.size < 3 or curve.min() > low:
        return None
    slope, _ = straight(grid(0, curve.size, _FRAME)[inside], curve[inside])
    return -60.0 / slope if slope < 0.0 else None


def decay_of(seconds: float) -> float:
    """Time constant (s) of an amplitude that decays by 60 dB in ``seconds``.

    >>> round(decay_of(6.9078), 3)
    1.0
    """
    return seconds / log(1000.0)
