"""The impedance of a loudspeaker over frequency: as read off meters, or recorded at a resistor."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..audio.arrays import Floats, quick_length, transform_long
from ..audio.errors import RecordingError

_LOW, _HIGH = 10.0, 20000.0
_PER_DECADE = 96
_COHERENT = 0.8  # below, the two voltages have more noise than signal in common
_HALF_HZ, _HALF_PART = 0.25, 0.003  # half the band a point is averaged over, Hz and part of it
_CALLED_FOR = "Read the impedance from 20 Hz to 1 kHz, closely around the peak"


@dataclass(frozen=True, slots=True)
class ImpedanceCurve:
    """``hertz``, rising, and the magnitude ``ohm``, shape (n,); ``phase``: radians, None where only
    the magnitude was read.
    """

    hertz: Floats
    ohm: Floats
    phase: Floats | None = None


def from_points(points: Iterable[tuple[float, float]]) -> ImpedanceCurve:
    """A curve from (Hz, ohm) in any order; of a frequency read twice the last counts.

    Raises RecordingError where there are fewer than seven, or one that is not above zero.
    """
    read = dict(points)
    hertz = np.array(sorted(read))
    ohm = np.array([read[hz] for hz in hertz])
    if hertz.size < 7:
        raise RecordingError(f"{hertz.size} readings of the impedance are too few", _CALLED_FOR)
    if not (np.isfinite(ohm).all() and (ohm > 0.0).all() and (hertz > 0.0).all()):
        raise RecordingError("an impedance or frequency that is not above zero", _CALLED_FOR)
    return ImpedanceCurve(hertz, ohm)


def from_recording(
    speaker: Floats, resistor: Floats, rate: float, series_ohm: float
) -> ImpedanceCurve:
    """A curve from the voltage at the loudspeaker and that at a resistor in series with it.

    ``speaker``, ``resistor``: recorded at once, shape (frames,), of a sweep or noise from 10 Hz up;
    ``series_ohm``: of the resistor.  Z = R U1/U2, the cross spectrum over that of the current, both
    averaged over narrow bands.  Both inputs of the interface must have the same gain.
    """
    if not series_ohm > 0.0:
        raise RecordingError(
            f"a series resistor of {series_ohm:g} ohm", "Give series_ohm as measured"
        )
    n = quick_length(speaker.size)
    volts = transform_long(speaker - speaker.mean(), n)
    amps = transform_long(resistor - resistor.mean(), n)
    top = min(_HIGH, 0.45 * rate)
    wanted = np.geomspace(_LOW, top, int(_PER_DECADE * np.log10(top / _LOW)))
    hertz: list[float] = []
    found: list[complex] = []
    least = 1e-8 * float(np.square(np.abs(amps)).max())
    for hz in wanted.tolist():
        # both voltages come at the same time, so that the ratio turns no phase from bin to bin
        half = max(_HALF_HZ, _HALF_PART * hz, rate / n)
        bins = slice(max(round((hz - half) * n / rate), 1), round((hz + half) * n / rate) + 1)
        current = amps[bins].astype(np.complex128)
        strength = float(np.vdot(current, current).real) / current.size
        across = volts[bins].astype(np.complex128)
        cross = complex(np.vdot(current, across)) / current.size
        both = strength * float(np.vdot(across, across).real) / current.size
        if strength > least and abs(cross) ** 2 > _COHERENT * both:
            hertz.append(hz)
            found.append(cross / strength * series_ohm)
    if len(hertz) < 20:
        raise RecordingError(
            "it holds too few frequencies", "Play a sweep from 10 Hz to 20 kHz and record it whole"
        )
    z = np.array(found, np.complex128)
    return ImpedanceCurve(np.array(hertz), np.abs(z), np.angle(z))
