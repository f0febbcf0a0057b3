"""Output power at the onset of clipping, from a tone that rises in steps or without them.

The definition is that of distortion-limited output power (IEC 60268-3, from memory): the power at
which the total harmonic distortion reaches a stated limit, here while the level rises.  Between the
last level below it and the first above, the distortion is taken as a straight line over the
logarithm of the power.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from .arrays import Floats
from .errors import RecordingError
from .levels import watts
from .onset import levels
from .spectrum import NARROW, spectra
from .tone import fundamental, measure_tone

_FRAME = 0.1  # s
_TOGETHER_DB = 0.1  # frames whose levels differ by less are one level
_UNSTEADY_DB = 0.25  # a frame that changes by more holds the edge of a step


@dataclass(frozen=True, slots=True)
class Step:
    """A level: rms of all of the tone and its harmonics (unit of the samples), THD 0 to 1."""

    rms: float
    thd: float


def steps_of(samples: Floats, rate: float, *, near: float | None = None) -> tuple[Step, ...]:
    """Every level of a recorded tone that rises or falls, in the order of rising drive.

    Frames of a tenth of a second each; those that hold the edge of a step are left out; neighbours
    of one level are one.  Raises RecordingError where there is no tone, or one of less than 150 Hz.
    """
    hz = _loudest(samples, rate, near)
    found: list[Step] = []
    thds: list[float] = []
    order = range(2, 11)
    half = levels(samples, rate, 0.5 * _FRAME)
    frame = int(_FRAME * rate)
    loudest = float(half.max())
    groups: list[list[Step]] = []
    for at in range(samples.size // frame):
        pair = half[2 * at : 2 * at + 2]
        if pair.size < 2 or pair.min() < 1e-3 * loudest:
            continue
        if abs(20.0 * np.log10(pair[1] / pair[0])) > _UNSTEADY_DB:
            continue
        held = samples[at * frame : (at + 1) * frame]
        step = _step(held, rate, hz, order)
        if step is None:
            continue
        near_one = groups and abs(20.0 * np.log10(step.rms / groups[-1][0].rms)) <= _TOGETHER_DB
        if near_one:
            groups[-1].append(step)
        else:
            groups.append([step])
    for group in groups:
        thds.append(sqrt(sum(s.thd**2 for s in group) / len(group)))
        found.append(Step(sqrt(sum(s.rms**2 for s in group) / len(group)), thds[-1]))
    if not found:
        raise RecordingError(
            "no level in it is held for a tenth of a second",
            "Record a tone of 1 kHz raised in steps of 1 dB, a second each, or slowly",
        )
    return tuple(found if found[-1].rms >= found[0].rms else found[::-1])


def power_at(steps: Sequence[Step], limit: float, ohm: float, volts: float = 1.0) -> float:
    """Output power (W) where the distortion rises through ``limit`` (0 to 1) for good.

    ``steps`` in the order of rising drive; ``ohm``: the load; ``volts``: V at the load that 1 in
    the unit of the steps stands for.  Raises RecordingError where the limit is never reached, or
    is passed at the lowest level already.
    """
    below = [n for n, step in enumerate(steps) if step.thd <= limit]
    if not below:
        raise RecordingError(
            f"the distortion is above {limit:.0%} at every level",
            "Begin lower, with nothing clipping, and look at the wave: it may be the source",
        )
    last = below[-1]
    if last + 1 == len(steps):
        power = watts(max(s.rms for s in steps) * volts, ohm)
        raise RecordingError(
            f"the distortion never reaches {limit:.0%}: there is more than {power:.3g} W",
            "Raise the level until the tops of the wave are clearly flat",
        )
    low, high = steps[last], steps[last + 1]
    share = (limit - low.thd) / (high.thd - low.thd)
    power = log(low.rms) + share * (log(high.rms) - log(low.rms))
    return watts(exp(power) * volts, ohm)


def _loudest(samples: Floats, rate: float, near: float | None) -> float:
    """Frequency of the tone, Hz, from the second around the loudest place."""
    rms = levels(samples, rate)
    middle = int(np.argmax(rms) * 0.05 * rate)
    start = max(min(middle - int(rate / 2), samples.size - int(rate)), 0)
    hz = measure_tone(samples[start : start + int(rate)], rate, near=near).hertz
    if hz < 150.0:
        raise RecordingError(
            f"the tone is one of {hz:.0f} Hz", "Take one of 150 Hz or more, 1 kHz is usual"
        )
    return hz


def _step(held: Floats, rate: float, hz: float, orders: range) -> Step | None:
    spectrum = next(spectra(held, rate, _FRAME, NARROW))
    try:
        fundamental(spectrum, hz)
    except RecordingError:
        return None
    own = spectrum.tone(hz)
    rest = sum(spectrum.tone(k * hz) for k in orders if k * hz < 0.49 * rate)
    return Step(sqrt(own + rest), sqrt(rest / (own + rest))) if own > 0.0 else None
