"""Recordings whose every figure is known, as an interface would have written them."""

from __future__ import annotations

from collections.abc import Mapping
from math import pi

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def moments(rate: float, seconds: float, ppm: float = 0.0) -> Floats:
    """Seconds by the player's clock at each sample of a recorder whose clock is off by ``ppm``."""
    return np.arange(int(rate * seconds)) / rate * (1.0 + ppm * 1e-6)


def distorted(
    t: Floats, hz: float, peak: float, harmonics: Mapping[int, float], offset: float = 0.0
) -> Floats:
    """A tone with harmonics as parts of its fundamental, each with a phase of its own."""
    wave = np.sin(2.0 * pi * hz * t)
    for order, part in harmonics.items():
        wave += part * np.sin(2.0 * pi * order * hz * t + 0.7 * order)
    return peak * wave + offset


def converted(wave: Floats, bits: int, seed: int = 1) -> Floats:
    """As a converter of so many bits writes it, with the usual dither, clipped at full scale."""
    rng = np.random.default_rng(seed)
    step = 2.0 ** (1 - bits)
    dither = rng.random(wave.size) - rng.random(wave.size)
    return np.clip(np.round(wave / step + dither) * step, -1.0, 1.0 - step)


def through(wave: Floats, rate: float, hertz_to_gain) -> Floats:
    """``wave`` through something linear, given as a function of frequency."""
    n = 1 << int(np.ceil(np.log2(wave.size + rate)))
    gain = hertz_to_gain(np.fft.rfftfreq(n, 1.0 / rate))
    return np.fft.irfft(np.fft.rfft(wave, n) * gain, n)[: wave.size]


def clipped_sine_thd(peak: float) -> float:
    """THD (to the whole) of a sine of ``peak`` cut at 1, by its first ten harmonics, worked out on
    one period."""
    n = 1 << 15
    wave = np.clip(peak * np.sin(2.0 * pi * np.arange(n) / n), -1.0, 1.0)
    lines = np.abs(np.fft.rfft(wave))[1:11]
    return float(np.sqrt(np.sum(lines[1:] ** 2) / np.sum(lines**2)))
