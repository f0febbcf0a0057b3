"""Power spectra through a Kaiser window, and what stands in a line of one.

Harris, 'On the use of windows for harmonic analysis', Proc. IEEE 66 (1978).  The power of a tone
is the sum over its main lobe: exact wherever the tone lies between the bins, and whatever a clock
that is a little off made of its frequency.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, pi, sqrt

import numpy as np

from .arrays import Floats, grid, quick_length, transform

STEEP = 22.0  # side lobes below -160 dB: nothing of a tone is left beside its lobe, even at 24 bits
NARROW = 14.0  # side lobes below -100 dB, for hum and noise


@dataclass(frozen=True, slots=True)
class Spectrum:
    """``power``: mean square in each bin, one-sided, so that it sums to that of the samples;
    ``hertz``: between bins; ``reach``: half the width of a tone's lobe, bins; ``averaged``: over
    how many stretches.
    """

    power: Floats
    hertz: float
    reach: int
    averaged: int = 1

    def bin(self, hz: float) -> int:
        """The bin nearest to ``hz``."""
        return round(hz / self.hertz)

    def lobe(self, hz: float, slack: int = 1) -> slice:
        """The bins of a tone at ``hz``, ``slack`` more on either side."""
        at, wide = self.bin(hz), self.reach + slack
        return slice(max(at - wide, 0), min(at + wide + 1, self.power.size))

    def floor(self, hz: float, slack: int = 1) -> float:
        """Mean square per bin of the noise beside a tone at ``hz``: the median of the bins on both
        sides, which hum and other tones do not move, made a mean.
        """
        inner = self.reach + slack + 1
        at, outer = self.bin(hz), 3 * inner
        low = self.power[max(at - outer, 1) : max(at - inner, 1)]
        high = self.power[at + inner + 1 : at + outer + 1]
        beside = np.concatenate((low, high))
        if not beside.size:
            return 0.0
        # median of a gamma distribution of so many averages, over its mean (Wilson and Hilferty)
        middle = (1.0 - 1.0 / (9.0 * self.averaged)) ** 3 if self.averaged > 1 else np.log(2.0)
        return float(np.median(beside)) / float(middle)

    def tone(self, hz: float, slack: int = 1) -> float:
        """Mean square of a tone at ``hz``, less the noise under its lobe; never below 0."""
        lobe = self.lobe(hz, slack)
        held = float(self.power[lobe].sum())
        return max(held - self.floor(hz, slack) * (lobe.stop - lobe.start), 0.0)

    def centre(self, hz: float, slack: int = 1) -> float:
        """Frequency of a tone near ``hz``: the centre of gravity of its lobe, Hz."""
        lobe = self.lobe(hz, slack)
        power = np.maximum(self.power[lobe] - self.floor(hz, slack), 0.0)
        total = float(power.sum())
        bins = grid(lobe.start, lobe.stop)
        return float(np.dot(bins, power)) / total * self.hertz if total > 0.0 else hz

    def between(self, low: float, high: float) -> float:
        """Mean square from ``low`` to ``high`` Hz, both bins included."""
        first = max(ceil(low / self.hertz - 0.5), 0)
        return float(self.power[first : int(high / self.hertz + 0.5) + 1].sum())

    def frequencies(self) -> Floats:
        """Hz of every bin."""
        return grid(0, self.power.size, self.hertz)


def spectra(
    samples: Floats, rate: float, seconds: float, beta: float = STEEP, overlap: float = 0.5
) -> Iterator[Spectrum]:
    """Spectra of stretches of ``seconds`` (or of all, where it is shorter), one after the other.

    The constant part of each stretch is taken off it.  No zeros are added.
    """
    n = min(quick_length(max(int(seconds * rate), 16)), samples.size)
    if n > 4096:  # a length that is transformed quickly, not a prime
        while quick_length(n) != n:
            n -= 1
    window = _kaiser(n, beta)
    scale = 2.0 / (n * float(np.dot(window, window)))
    reach = ceil(sqrt(1.0 + (beta / pi) ** 2))
    mean = float(window.sum())
    hop = max(int(n * (1.0 - overlap)), 1)
    for start in range(0, samples.size - n + 1, hop):
        held = samples[start : start + n]
        offset = float(np.dot(held, window)) / mean
        found = transform((held - offset) * window)
        power = (found.real**2 + found.imag**2) * scale
        power[0] *= 0.5
        if n % 2 == 0:
            power[-1] *= 0.5
        yield Spectrum(power, rate / n, reach)


@lru_cache(8)
def _kaiser(n: int, beta: float) -> Floats:
    """The window, kept: many short stretches ask for the same."""
    window = np.kaiser(n, beta)
    window.flags.writeable = False
    return window


def averaged(samples: Floats, rate: float, seconds: float, beta: float = NARROW) -> Spectrum:
    """Mean spectrum over all stretches (Welch 1967)."""
    total: Floats | None = None
    count, hertz, reach = 0, 0.0, 0
    for found in spectra(samples, rate, seconds, beta):
        total = found.power if total is None else total + found.power
        count, hertz, reach = count + 1, found.hertz, found.reach
    if total is None:
        raise ValueError("no samples")
    return Spectrum(total / count, hertz, reach, count)
