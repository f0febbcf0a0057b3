"""Where a signal begins and ends, and where it is steady."""

from __future__ import annotations

from math import ceil

import numpy as np
from numpy.typing import NDArray

from .arrays import Floats
from .errors import RecordingError


def levels(samples: Floats, rate: float, seconds: float = 0.05) -> Floats:
    """Rms of one stretch of ``seconds`` after the other, each without its constant part."""
    n = max(int(seconds * rate), 1)
    count = samples.size // n
    parts = samples[: count * n].reshape(count, n)
    square = np.einsum("ij,ij->i", parts, parts) / n
    return np.sqrt(np.maximum(square - parts.mean(axis=1) ** 2, 0.0))


def steady(samples: Floats, rate: float, within_db: float = 1.0) -> Floats:
    """The longest stretch that stays within ``within_db`` of the level it has most of the time.

    Silence before and after is left out, and a twentieth of a second at either end with it where
    something was cut.  Raises RecordingError where less than a quarter of a second is left.
    """
    rms = levels(samples, rate)
    loud = rms[rms > 0.1 * rms.max()] if rms.size else rms
    if not loud.size:
        raise RecordingError("there is no tone in it", "Record a steady tone of ten seconds")
    usual = float(np.median(loud))
    keep = np.abs(20.0 * np.log10(np.maximum(rms, 1e-30) / usual)) <= within_db
    first, last = _longest(keep)
    n = int(0.05 * rate)
    start = 0 if first == 0 else (first + 1) * n
    end = samples.size if last == rms.size else (last - 1) * n
    if end - start < ceil(0.25 * rate):
        raise RecordingError(
            "no quarter of a second of it keeps its level",
            "Record one steady tone of ten seconds, nothing turned meanwhile",
        )
    return samples[start:end]


def begins(samples: Floats, rate: float, over_db: float = 20.0) -> int:
    """The sample where something louder by ``over_db`` than the quiet before it begins; 0 where it
    begins at once.

    The quiet is the level of the least loud twentieth of all stretches of 5 ms.
    """
    rms = levels(samples, rate, 0.005)
    if not rms.size:
        return 0
    quiet = float(np.quantile(rms, 0.05))
    threshold = min(quiet * 10.0 ** (over_db / 20.0), 0.5 * float(rms.max()))
    return int(np.argmax(rms >= threshold)) * max(int(0.005 * rate), 1)


def _longest(keep: NDArray[np.bool_]) -> tuple[int, int]:
    """First and one past the last of the longest run of what is kept."""
    edges = np.diff(np.concatenate(([0], keep.astype(np.int8), [0])))
    firsts, lasts = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    if not firsts.size:
        return 0, 0
    best = int(np.argmax(lasts - firsts))
    return int(firsts[best]), int(lasts[best])
