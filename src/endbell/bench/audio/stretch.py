"""How far two clocks differ: a sweep played by one machine and recorded by another.

A recorder that runs fast by a fraction e hears a sweep of length T last T(1 + e): each frequency f
arrives later by e T ln(f/f1)/ln(f2/f1).  An amp delays all notes of the middle alike, so that what
grows with the logarithm of the frequency is the clocks'.
"""

from __future__ import annotations

from math import log, pi

import numpy as np

from .arrays import Floats, Singles, straight

_MOST = 1.5e-3


def clock_error(
    heard: Singles, n: int, rate: float, low: float, high: float, seconds: float
) -> float:
    """Fraction by which the recorder's clock is the faster one; 0 where it cannot be told.

    ``heard``: spectrum of the recording, of ``n`` samples.  The phase of an even sweep is known in
    closed form (stationary phase: -2 pi f T/ln(f2/f1) (ln(f/f1) - 1)); what is left of the phase
    after it is taken off is, but for a delay, -2 pi f e T/ln(f2/f1) (ln(f/f1) - 1).  Its slope is
    read as the delay in narrow bands of the middle, where an amp delays all alike, and a straight
    line over ln f drawn through the delays.
    """
    over = seconds / log(high / low)
    first, last = max(4.0 * low, 400.0), min(high / 3.0, 8000.0)
    if first * 2.0 >= last:
        return 0.0
    hertz = rate / n
    centres = np.geomspace(first, last, 24)
    delays, weights = _delays(heard, hertz, centres, low, over)
    if not weights.any():
        return 0.0
    # the delay wraps around the length of the transform
    turn = n / rate
    middle = delays[centres.size // 2]
    delays = (delays - middle + 0.5 * turn) % turn - 0.5 * turn
    rise = np.log(centres)
    error = 0.0
    keep = np.ones(centres.size, bool)
    for _ in range(3):
        slope, at = straight(rise[keep], delays[keep], weights[keep])
        error = slope / over
        off = np.abs(delays - slope * rise - at)
        keep = off <= 3.0 * float(np.median(off[keep])) + 1e-7
        if keep.sum() < 6:
            return 0.0
    return error if abs(error) < _MOST else 0.0


def _delays(
    heard: Singles, hertz: float, centres: Floats, low: float, over: float
) -> tuple[Floats, Floats]:
    """Delay (s) and strength of each band: the mean turn of the phase from bin to bin."""
    delays, weights = np.zeros(centres.size), np.zeros(centres.size)
    for row, centre in enumerate(centres):
        bins = np.arange(int(centre * 0.93 / hertz), int(centre * 1.07 / hertz) + 1)
        bins = bins[bins < heard.size]
        hz = bins * hertz
        phase = 2.0 * pi * hz * over * (np.log(hz / low) - 1.0)
        level = heard[bins] * np.exp(1j * phase)
        step = level[1:] * level[:-1].conj()
        total = complex(step.sum())
        delays[row] = -np.angle(total) / (2.0 * pi * hertz)
        weights[row] = abs(total)
    return delays, weights
