"""Levels: dBu, dBV, dBFS, and what full scale is in volts at the load."""

from __future__ import annotations

from functools import cache
from math import sqrt

from ..facts import fact
from .arrays import db
from .errors import RecordingError


@cache
def _zero(name: str) -> float:
    return float(fact("audio", "levels", name)["value"])


def dbu(volts: float) -> float:
    """Level of V rms in dBu: 0 dBu is the square root of 0.6 V (ITU-R V.574)."""
    return db(volts / _zero("dBu"))


def dbv(volts: float) -> float:
    """Level of V rms in dBV: 0 dBV is 1 V."""
    return db(volts / _zero("dBV"))


def volts_of_dbu(level: float) -> float:
    """V rms of a level in dBu.

    >>> round(volts_of_dbu(4.0), 4)
    1.2277
    """
    return _zero("dBu") * 10.0 ** (level / 20.0)


def volts_of_dbv(level: float) -> float:
    """V rms of a level in dBV."""
    return _zero("dBV") * 10.0 ** (level / 20.0)


def dbfs(rms: float) -> float:
    """Level in dB FS of an rms value of samples whose full scale is 1.

    A sine whose peaks reach full scale is 0 dB FS (AES17).
    """
    return db(rms * sqrt(2.0))


def full_scale(volts: float, rms: float) -> float:
    """Volts (peak) that full scale stands for, from a known tone.

    ``volts``: V rms at the load by the meter; ``rms``: of the recorded tone, full scale = 1.
    Raises RecordingError where either is no level.
    """
    if not volts > 0.0 or not rms > 0.0:
        raise RecordingError(
            f"a tone of {volts:g} V recorded as {rms:g} calibrates nothing",
            "Read the steady tone with the meter in V rms while it is recorded",
        )
    return volts / rms


def watts(volts: float, ohm: float) -> float:
    """Power of V rms in a load, P = U²/R. Raises RecordingError without a load."""
    if not ohm > 0.0:
        raise RecordingError(f"a load of {ohm:g} ohm", "Give the measured load in ohm")
    return volts * volts / ohm


def volts_of_watts(power: float, ohm: float) -> float:
    """V rms that make ``power`` (W) in ``ohm``.

    >>> round(volts_of_watts(100.0, 8.0), 2)
    28.28
    """
    return sqrt(power * ohm)
