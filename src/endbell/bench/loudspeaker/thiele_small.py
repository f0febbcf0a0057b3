"""Thiele–Small parameters from an impedance curve: the classical way, and what follows from them.

R. H. Small, 'Direct-radiator loudspeaker system analysis', J. Audio Eng. Soc. 20 (1972), appendix
on the measurement of driver parameters.  With r0 = Zmax/Re, and f1 < fs < f2 where |Z| is Re
sqrt(r0): Qms = fs sqrt(r0)/(f2 - f1), Qes = Qms/(r0 - 1), Qts = Qms/r0.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from ..audio.arrays import Complexes, Floats
from ..audio.errors import RecordingError
from .curve import ImpedanceCurve

_CALLED_FOR = "Read the curve closely from half to twice the resonance, free in the air"


@dataclass(frozen=True, slots=True)
class Parameters:
    """``re``: ohm of the voice coil; ``fs``: Hz; ``qms``, ``qes``: mechanical and electrical Q at
    ``fs``; ``misfit``: rms difference of the curve from the model, as a fraction, None where none
    was fitted; ``asymmetry``: sqrt(f1 f2)/fs - 1 of the classical way, which is near 0.
    """

    re: float
    fs: float
    qms: float
    qes: float
    misfit: float | None = None
    asymmetry: float | None = None

    @property
    def qts(self) -> float:
        """Total Q: Qms Qes/(Qms + Qes)."""
        return self.qms * self.qes / (self.qms + self.qes)


def motional(hertz: Floats, re: float, fs: float, qms: float, qes: float) -> Floats:
    """|Z| (ohm) of a driver in free air without inductance, at each frequency."""
    return np.abs(impedance(hertz, re, fs, qms, qes))


def impedance(hertz: Floats, re: float, fs: float, qms: float, qes: float) -> Complexes:
    """Z (ohm, complex): Re + Re (Qms/Qes) / (1 + j Qms (f/fs - fs/f))."""
    around = np.zeros(np.shape(hertz), np.complex128)
    around.imag = qms * (hertz / fs - fs / hertz)
    return re + re * (qms / qes) / (1.0 + around)


def classical(curve: ImpedanceCurve, re: float | None = None) -> Parameters:
    """From the peak and the two frequencies beside it. ``re``: by a meter (ohm); else the lowest
    impedance below the peak stands for it, which is a little too much.

    Raises RecordingError where the curve has no peak, or does not reach far enough beside it.
    """
    hertz, ohm = curve.hertz, curve.ohm
    at = _peak(curve)
    if re is None:
        re = float(ohm[: at + 1].min())
    fs, top = _parabola(np.log(hertz[at - 1 : at + 2]), ohm[at - 1 : at + 2])
    fs = float(np.exp(fs))
    ratio = top / re
    if ratio <= 1.05:
        raise RecordingError(
            f"a peak of {top:.3g} ohm over {re:.3g} ohm of direct current",
            "Measure Re of the same loudspeaker with the leads' own resistance taken off",
        )
    level = re * sqrt(ratio)
    low, high = _left(hertz, ohm, at, level), _right(hertz, ohm, at, level)
    if low is None or high is None:
        raise RecordingError(
            f"the curve does not fall to {level:.3g} ohm on both sides of its peak", _CALLED_FOR
        )
    if not low < fs < high:
        raise RecordingError("the impedance has no round peak", _CALLED_FOR)
    qms = fs * sqrt(ratio) / (high - low)
    return Parameters(re, fs, qms, qms / (ratio - 1.0), None, sqrt(low * high) / fs - 1.0)


def _peak(curve: ImpedanceCurve) -> int:
    """The sample of the resonance: the highest that has lower ones on both sides, below 500 Hz."""
    ohm = curve.ohm
    inner = np.flatnonzero((ohm[1:-1] >= ohm[:-2]) & (ohm[1:-1] > ohm[2:])) + 1
    inner = inner[curve.hertz[inner] < 500.0]
    if not inner.size:
        raise RecordingError("the impedance has no peak", _CALLED_FOR)
    return int(inner[int(np.argmax(ohm[inner]))])


def _parabola(x: Floats, y: Floats) -> tuple[float, float]:
    """Top of a parabola through three points."""
    middle, top = float(x[1]), float(y[1])
    u, v = float(x[0]) - middle, float(x[2]) - middle
    p, q = (float(y[0]) - top) / u, (float(y[2]) - top) / v
    a = (q - p) / (v - u)
    b = p - a * u
    if a >= 0.0:
        return middle, top
    return middle - b / (2.0 * a), top - b * b / (4.0 * a)


def _left(hertz: Floats, ohm: Floats, at: int, level: float) -> float | None:
    below = np.flatnonzero(ohm[:at] <= level)
    return _crossing(hertz, ohm, int(below[-1]), level) if below.size else None


def _right(hertz: Floats, ohm: Floats, at: int, level: float) -> float | None:
    below = np.flatnonzero(ohm[at + 1 :] <= level)
    return _crossing(hertz, ohm, at + int(below[0]), level) if below.size else None


def _crossing(hertz: Floats, ohm: Floats, at: int, level: float) -> float:
    """Where the curve passes ``level`` between two samples, straight over log f and log Z."""
    z = np.log(ohm[at : at + 2] / level)
    share = float(-z[0] / (z[1] - z[0]))
    return float(hertz[at] * (hertz[at + 1] / hertz[at]) ** share)


@dataclass(frozen=True, slots=True)
class Moving:
    """``mass``: Mms, kg; ``compliance``: Cms, m/N; ``volume``: Vas, m³; ``force``: Bl, T m."""

    mass: float
    compliance: float
    volume: float
    force: float


def by_added_mass(
    free: Parameters,
    loaded_fs: float,
    added: float,
    area: float,
    *,
    density: float,
    sound: float,
) -> Moving:
    """Mass, compliance, Vas and Bl from the resonance with a mass added to the cone.

    Mms = m/((fs/fs')² - 1), Cms = 1/((2 pi fs)² Mms), Vas = density sound² Sd² Cms,
    Bl = sqrt(2 pi fs Mms Re/Qes) (Small 1972).  ``loaded_fs``: Hz with ``added`` kg; ``area``: Sd
    in m²; ``density`` (kg/m³) and ``sound`` (m/s) of the air.  Raises RecordingError where the
    added mass did not lower the resonance.
    """
    if not 0.0 < loaded_fs < 0.97 * free.fs or not added > 0.0 or not area > 0.0:
        raise RecordingError(
            f"a resonance of {loaded_fs:.1f} Hz with {added * 1000:.1f} g more, "
            f"{free.fs:.1f} Hz without",
            "Add as much as lowers the resonance by 20 to 50 %, stuck on around the dust cap",
        )
    mass = added / ((free.fs / loaded_fs) ** 2 - 1.0)
    compliance = 1.0 / ((2.0 * pi * free.fs) ** 2 * mass)
    return Moving(
        mass,
        compliance,
        density * sound**2 * area**2 * compliance,
        sqrt(2.0 * pi * free.fs * mass * free.re / free.qes),
    )
