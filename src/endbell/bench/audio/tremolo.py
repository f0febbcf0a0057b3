"""Tremolo: how fast, how deep. A steady tone is played through it; its envelope is measured."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np

from .arrays import Floats, db, grid, quick_length, transform
from .errors import RecordingError
from .spectrum import averaged
from .tone import fundamental

_SLOWEST, _FASTEST = 0.8, 25.0  # Hz; nothing that is called tremolo lies outside
_HOP = 0.004  # s
_FOLDS = 64


@dataclass(frozen=True, slots=True)
class Tremolo:
    """``hertz``: its rate; ``depth``: (loudest - softest)/(loudest + softest) of a mean turn, 0 to
    1; ``cycle``: that turn, ``_FOLDS`` values, its mean 1.
    """

    hertz: float
    depth: float
    cycle: Floats

    @property
    def depth_db(self) -> float:
        """Loudest over softest, dB."""
        return db(float(self.cycle.max()) / max(float(self.cycle.min()), 1e-6))


def envelope(samples: Floats, rate: float) -> tuple[Floats, float]:
    """Amplitude of a tone over time, and how many values a second.

    Each value is the tone's amplitude under a Hann window of eight of its periods, or 12 ms, from
    the tone's own frequency, which is found.
    """
    spectrum = averaged(samples, rate, 2.0)
    hz = fundamental(spectrum)
    n = max(int(8.0 * rate / hz), int(0.012 * rate))
    hop = max(int(_HOP * rate), 1)
    if samples.size < 4 * n:
        raise RecordingError("it is too short", "Record ten seconds of the tremolo at work")
    window = np.hanning(n + 2)[1:-1]
    wave = np.exp(-2j * pi * hz / rate * np.arange(n)) * window * (2.0 / window.sum())
    frames = np.lib.stride_tricks.sliding_window_view(samples, n)[::hop]
    offset = float(samples.mean())
    real, imag = frames @ wave.real.copy(), frames @ wave.imag.copy()
    shift = offset * complex(wave.sum())
    return np.hypot(real - shift.real, imag - shift.imag), rate / hop


def measure_tremolo(samples: Floats, rate: float) -> Tremolo:
    """Rate and depth from a recording of a steady tone of 400 Hz or more through the tremolo.

    The rate is the strongest line of the envelope's spectrum; the envelope is then folded by it
    into one turn, so that hum and noise average out.  Raises RecordingError where nothing goes up
    and down between 0.8 and 25 Hz.
    """
    level, per_second = envelope(samples, rate)
    mean = float(level.mean())
    hertz = _rate(level - mean, per_second)
    turns = level.size / per_second * hertz
    if turns < 3.0:
        raise RecordingError(f"it holds {turns:.1f} turns", "Record ten turns of the tremolo")
    cycle = _folded(level, per_second, hertz)
    cycle = cycle / cycle.mean()
    depth = float((cycle.max() - cycle.min()) / (cycle.max() + cycle.min()))
    # noise makes a wave of its own: what is folded must explain most of what moves
    where = (np.arange(level.size) / per_second * hertz) % 1.0 * _FOLDS
    told = np.interp(where, np.arange(_FOLDS + 1) + 0.5, np.append(cycle, cycle[0])) * mean
    if depth < 0.01 or np.var(level - told) > 0.5 * np.var(level):
        raise RecordingError(
            "its level does not go up and down between 0.8 and 25 Hz",
            "Turn depth up, plug the foot switch in, and play a steady tone",
        )
    return Tremolo(hertz, min(depth, 1.0), cycle)


def _rate(moving: Floats, per_second: float) -> float:
    """The lowest strong line of the envelope, Hz, refined by a parabola over the logarithm."""
    n = quick_length(8 * moving.size)
    size = np.abs(transform(moving * np.hanning(moving.size), n))
    first = max(int(_SLOWEST * n / per_second), 2)
    last = min(int(_FASTEST * n / per_second), size.size - 2)
    if last <= first:
        raise RecordingError("it is too short", "Record ten turns of the tremolo")
    at = first + int(np.argmax(size[first:last]))
    # a square wave's own line is its strongest; an uneven one may have a stronger second
    half = round(at / 2)
    near = slice(max(half - 3, first), half + 4)
    if half > first and size[near].max() > 0.5 * size[at]:
        at = near.start + int(np.argmax(size[near]))
    left, middle, right = np.log(np.maximum(size[at - 1 : at + 2], 1e-300))
    bend = left - 2.0 * middle + right
    shift = 0.5 * (left - right) / bend if bend < 0.0 else 0.0
    return (at + float(shift)) * per_second / n


def _folded(level: Floats, per_second: float, hertz: float) -> Floats:
    """Mean of the envelope in each sixty-fourth of a turn."""
    phase = (np.arange(level.size) / per_second * hertz) % 1.0
    slot = np.minimum((phase * _FOLDS).astype(int), _FOLDS - 1)
    count = np.bincount(slot, minlength=_FOLDS)
    total = np.bincount(slot, weights=level, minlength=_FOLDS)
    known = count > 0
    # where the values of a slot lie in the turn: at some rates they all fall on a few places
    where = np.bincount(slot, weights=phase, minlength=_FOLDS)[known] / count[known]
    places = (grid(0, _FOLDS) + 0.5) / _FOLDS
    return np.interp(places, where, total[known] / count[known], period=1.0)
