"""A-weighting (IEC 61672-1): the curve as it is defined, and a filter that follows it exactly.

The poles are worked out from the defining frequencies as annex E of the standard does: 20.6 Hz,
107.7 Hz, 737.9 Hz and 12.19 kHz.
"""

from __future__ import annotations

from functools import cache
from math import sqrt

import numpy as np

from ..facts import fact
from .arrays import Floats, back, grid, quick_length, transform


@cache
def poles() -> tuple[float, float, float, float]:
    """The four frequencies f1 to f4 (Hz) of the curve, rising; f1 and f4 count twice."""
    reference, low, middle, high = (
        float(fact("audio", "weighting", name)["value"])
        for name in ("reference", "low", "middle", "high")
    )
    # C-weighting is 3 dB down at `low` and `high`: annex E, equations for b and c
    d = sqrt(0.5)
    c = low**2 * high**2
    b = (reference**2 + c / reference**2 - d * (low**2 + high**2)) / (1.0 - d)
    root = sqrt(b * b - 4.0 * c)
    return (
        sqrt((-b - root) / 2.0),
        0.5 * (3.0 - sqrt(5.0)) * middle,
        0.5 * (3.0 + sqrt(5.0)) * middle,
        sqrt((-b + root) / 2.0),
    )


def a_weight(hz: Floats | float) -> Floats:
    """The factor of A-weighting on a voltage at ``hz``; 1 at 1 kHz, 0 at 0 Hz."""
    reference = float(fact("audio", "weighting", "reference")["value"])
    return _shape(np.asarray(hz, float)) / _shape(np.asarray(reference))


def a_weight_db(hz: Floats | float) -> Floats:
    """A-weighting in dB at ``hz``; minus infinity at 0 Hz."""
    with np.errstate(divide="ignore"):
        return 20.0 * np.log10(a_weight(hz))


def a_weighted(samples: Floats, rate: float) -> Floats:
    """``samples`` through A-weighting, same length, in phase: the spectrum times the curve.

    Exact up to half the sample rate, where a filter with poles is not.  The constant part is gone.
    """
    n = quick_length(samples.size + int(0.1 * rate))
    spectrum = transform(samples, n)
    return back(spectrum * a_weight(grid(0, spectrum.size, rate / n)), n)[: samples.size]


def _shape(hz: Floats) -> Floats:
    f1, f2, f3, f4 = (f * f for f in poles())
    square = hz * hz
    return f4 * square**2 / ((square + f1) * np.sqrt((square + f2) * (square + f3)) * (square + f4))
