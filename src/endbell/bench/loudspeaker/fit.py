"""Thiele–Small parameters by least squares: every reading counts, the coil's inductance too.

Z = Re + K (j w)^n + Re (Qms/Qes)/(1 + j Qms (f/fs - fs/f)); the lossy inductance of the coil is
that of W. M. Leach, 'Loudspeaker voice-coil inductance losses', J. Audio Eng. Soc. 50 (2002).
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

import numpy as np

from ..audio.arrays import Complexes, Floats, root_mean_square
from ..audio.errors import RecordingError
from .curve import ImpedanceCurve
from .thiele_small import Parameters, classical, impedance

_MOST = 25.0  # logarithms that no loudspeaker comes near; an even guess may on its way
_UP_TO = 10.0  # times the resonance: above, the cone breaks up and the coil is all there is


def fitted(curve: ImpedanceCurve, re: float | None = None) -> Parameters:
    """Fit the model to the curve up to ten times its resonance, from the classical values.

    ``re``: by a meter (ohm), then held; else fitted.  Where the phase is known it is fitted too.
    Differences are relative to the curve.  Raises RecordingError where :func:`classical` does, or
    the curve is not that of a loudspeaker in free air.
    """
    first = classical(curve, re)
    keep = curve.hertz <= max(_UP_TO * first.fs, float(curve.hertz[min(12, curve.hertz.size - 1)]))
    hertz, ohm = curve.hertz[keep], curve.ohm[keep]
    seen = ohm if curve.phase is None else ohm * np.exp(1j * curve.phase[keep])

    def differences(logs: Floats) -> Floats:
        told = _model(hertz, logs, re)
        if curve.phase is None:
            return np.log(np.abs(told) / ohm)
        apart = (told - seen) / ohm
        return np.concatenate((apart.real, apart.imag))

    start: Floats = np.log([first.fs, first.qms, first.qes, 1e-3, 0.7 / 0.3, first.re])
    free = np.asarray(start[: 5 if re else 6], np.float64)
    # by name, as it has no types, and here, as it is large
    library: Any = import_module("scipy.optimize")
    found = library.least_squares(differences, free, x_scale="jac")
    solved: Floats = found.x
    fs, qms, qes, _, _, *own = (float(v) for v in np.exp(np.clip(solved, -_MOST, _MOST)))
    left: Floats = found.fun
    misfit = root_mean_square(left)
    if not (misfit <= 0.15 and 0.5 < fs / first.fs < 2.0):
        raise RecordingError(
            f"the curve differs from that of a loudspeaker in free air by {misfit:.0%}",
            "Take it out of its cabinet, alone, without a filter, and read it again",
        )
    return Parameters(own[0] if own else first.re, fs, qms, qes, misfit, first.asymmetry)


def _model(hertz: Floats, logs: Floats, re: float | None) -> Complexes:
    """Z at each frequency; ``logs``: of fs, Qms, Qes, K, n/(1 - n), then of Re unless held."""
    fs, qms, qes, coil, odds, *own = (float(v) for v in np.exp(np.clip(logs, -_MOST, _MOST)))
    exponent = odds / (1.0 + odds)
    direct = own[0] if own else float(re or 1.0)
    lossy = coil * (2j * np.pi * hertz) ** exponent
    return impedance(hertz, direct, fs, qms, qes) + lossy
