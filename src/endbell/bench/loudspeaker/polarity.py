"""Polarity: does the cone move out when the terminal marked plus becomes positive?

Either a battery is held to the terminals for a moment and the cone watched (plus on plus: out is
+1), or a short pulse is played and a microphone close to the cone hears whether the pressure rises
first.
"""

from __future__ import annotations

import numpy as np

from ..audio.arrays import Floats
from ..audio.errors import RecordingError
from ..audio.onset import begins

_WITHIN = 0.003  # s after the pulse arrives: later the cabinet and the room answer
_FIRST = 0.3  # of the largest swing: what comes earlier is noise


def polarity(pressure: Floats, rate: float) -> int:
    """+1 where the pressure first rises, -1 where it first falls.

    ``pressure``: a microphone's recording of a positive pulse, or the impulse response of a sweep
    around its peak.  Raises RecordingError where the first swing does not stand out.
    """
    if not pressure.size or not float(np.ptp(pressure)) > 0.0:
        raise RecordingError("there is no pulse in it", "Play a short positive pulse, close by")
    start = max(begins(pressure, rate) - int(0.002 * rate), 0)
    held = pressure[start:]
    quiet = held[: max(int(0.001 * rate), 1)]
    held = held - float(np.median(quiet))
    largest = float(np.abs(held).max())
    reached = np.flatnonzero(np.abs(held) >= _FIRST * largest)
    first = int(reached[0])
    if float(np.abs(quiet - np.median(quiet)).max()) > 0.5 * _FIRST * largest:
        raise RecordingError(
            "the pulse does not stand out of its noise",
            "Leave some rest before it, and play it louder, the microphone close to the cone",
        )
    swing = held[first : first + max(int(_WITHIN * rate), 2)]
    return 1 if swing[0] > 0.0 else -1
