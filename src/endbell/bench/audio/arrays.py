"""Arrays and Fourier transforms with their types; scipy's functions have none."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Singles = NDArray[np.complex64]

# A second core helps with the long transforms of a sweep and does no harm where there is none.
_WORKERS = 2


@cache
def _fft() -> Any:
    """The library, by name as it has no types, and only when a recording is there: it is large."""
    return import_module("scipy.fft")


def transform(samples: Floats, n: int | None = None) -> Complexes:
    """Spectrum of real ``samples``, shape (n // 2 + 1,), zeros added up to ``n``."""
    return _fft().rfft(samples, n=n, workers=_WORKERS)


def back(spectrum: Complexes, n: int) -> Floats:
    """Real samples, shape (n,), of a spectrum made by :func:`transform`."""
    return _fft().irfft(spectrum, n=n, workers=_WORKERS)


def transform_long(samples: Floats, n: int) -> Singles:
    """As :func:`transform`, in single precision: for millions of samples, in half the time.

    What is lost lies 120 dB below the signal, below the noise of any recording of an amp.
    """
    return _fft().rfft(samples.astype(np.float32), n=n, workers=_WORKERS)


def back_long(spectrum: Singles, n: int) -> Floats:
    """Real samples, shape (n,), of a spectrum made by :func:`transform_long`."""
    return _fft().irfft(spectrum, n=n, workers=_WORKERS).astype(np.float64)


def quick_length(n: int) -> int:
    """The smallest length from ``n`` up that is transformed quickly."""
    return int(_fft().next_fast_len(n, real=True))


def grid(start: int, stop: int, step: float = 1.0) -> Floats:
    """``step`` times the whole numbers from ``start`` to ``stop``, the last left out."""
    return np.arange(start, stop, dtype=np.float64) * step


def straight(x: Floats, y: Floats, weights: Floats | None = None) -> tuple[float, float]:
    """Slope and height at 0 of the straight line through points, by (weighted) least squares."""
    w = np.ones(x.size) if weights is None else weights
    total = float(w.sum())
    middle, height = float(np.dot(w, x)) / total, float(np.dot(w, y)) / total
    apart = x - middle
    spread = float(np.dot(w, apart * apart))
    slope = float(np.dot(w, apart * (y - height))) / spread if spread > 0.0 else 0.0
    return slope, height - slope * middle


def db(ratio: float) -> float:
    """Decibels of a ratio of voltages; minus infinity of zero."""
    return 20.0 * float(np.log10(ratio)) if ratio > 0.0 else -np.inf


def root_mean_square(samples: Floats) -> float:
    """Rms of ``samples`` as they are, a constant part included."""
    return float(np.sqrt(np.dot(samples, samples) / samples.size)) if samples.size else 0.0
