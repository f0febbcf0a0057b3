"""What an amp gives without a signal: hum by harmonic, noise, A-weighted noise, S/N.

The mains is found, not asked: the frequency near 50 or 60 Hz whose multiples stand out most.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from .arrays import Floats, db
from .errors import RecordingError
from .rules import rule
from .spectrum import Spectrum, averaged
from .weighting import a_weight

_STRETCH = 2.0  # s: hum stays in its lobe while the mains wanders, and keeps apart from tones
_NOMINAL = (50.0, 60.0)
_STANDS_OUT = 1.0  # a harmonic counts where it holds as much as the noise under it
_CERTAIN = 4.0  # the strongest holds so many times the noise: noise itself does not, by chance


@dataclass(frozen=True, slots=True)
class Noise:
    """``mains``: Hz, None where no hum stands out; ``hum``: rms of each of its harmonics, the first
    the mains itself; ``all``: rms of everything in the audio band; ``weighted``: the same through
    A-weighting; ``hiss``: rms without the hum.  In the unit of the samples.
    """

    mains: float | None
    hum: tuple[float, ...]
    all: float
    weighted: float
    hiss: float

    @property
    def hum_rms(self) -> float:
        """Rms of all harmonics of the mains together."""
        return sqrt(sum(h * h for h in self.hum))

    def below(self, reference: float) -> float:
        """Signal to noise, dB: how far all noise lies below ``reference`` (rms, same unit)."""
        return db(reference / self.all)

    def weighted_below(self, reference: float) -> float:
        """The same A-weighted."""
        return db(reference / self.weighted)


def measure_noise(samples: Floats, rate: float) -> Noise:
    """Measure a recording of an amp at rest, its load on and its input closed.

    Noise is counted from 20 Hz to 20 kHz, or to half the sample rate.  Powers are averaged over
    stretches of two seconds.  Raises RecordingError where it lasts less than a second.
    """
    if samples.size < rate:
        raise RecordingError(
            f"{samples.size / rate:.2f} s of rest tell hum and hiss apart badly",
            "Record ten seconds of the amp at rest",
        )
    spectrum = averaged(samples, rate, _STRETCH)
    low, high = rule("band-low"), min(rule("band-high"), 0.499 * rate)
    mains = find_mains(spectrum)
    hum = () if mains is None else _hum(spectrum, mains)
    everything = spectrum.between(low, high)
    heavy = Spectrum(
        spectrum.power * a_weight(spectrum.frequencies()) ** 2, spectrum.hertz, spectrum.reach
    )
    return Noise(
        mains=mains,
        hum=tuple(sqrt(h) for h in hum),
        all=sqrt(everything),
        weighted=sqrt(heavy.between(0.5 * low, min(1.1 * high, 0.499 * rate))),
        hiss=sqrt(max(everything - sum(hum), 0.0)),
    )


def find_mains(spectrum: Spectrum) -> float | None:
    """The mains frequency (Hz) by its harmonics, or None where none stand out.

    Every frequency within ``mains-drift`` of 50 and 60 Hz is tried; each is worth the logarithm of
    how far its harmonics rise out of the noise beside them, so that one strong harmonic that both
    share (300 Hz) does not decide.
    """
    best, mains = 0.0, None
    for nominal in _NOMINAL:
        hz, worth = _best_near(spectrum, nominal)
        if worth > best:
            best, mains = worth, hz
    return mains


def _best_near(spectrum: Spectrum, nominal: float) -> tuple[float, float]:
    drift = rule("mains-drift")
    orders = np.arange(1, int(rule("hum-harmonics")) + 1)
    orders = orders[orders * nominal * (1.0 + drift) < spectrum.hertz * (spectrum.power.size - 1)]
    tried = np.arange(
        nominal * (1.0 - drift),
        nominal * (1.0 + drift),
        spectrum.hertz / (4.0 * max(int(orders[-1]), 1)),
    )
    running = np.concatenate(([0.0], np.cumsum(spectrum.power)))
    wide = spectrum.reach
    worth = np.zeros(tried.size)
    gained = np.zeros((orders.size, tried.size))
    for row, order in enumerate(orders):
        bins = np.rint(order * tried / spectrum.hertz).astype(int)
        low = np.clip(bins - wide, 1, spectrum.power.size)
        high = np.clip(bins + wide + 1, 1, spectrum.power.size)
        floor = spectrum.floor(float(order * nominal), slack=int(order * nominal * 0.005) + 1)
        under = np.maximum(floor * (high - low), 1e-300)
        gained[row] = (running[high] - running[low]) / under - 1.0
        worth += np.log1p(np.maximum(gained[row] - _STANDS_OUT, 0.0))
    at = int(np.argmax(worth))
    if worth[at] <= 0.0 or gained[:, at].max() < _CERTAIN:
        return nominal, 0.0
    strongest = int(orders[int(np.argmax(gained[:, at]))])
    hz = spectrum.centre(strongest * float(tried[at])) / strongest
    return hz, float(worth[at])


def _hum(spectrum: Spectrum, mains: float) -> list[float]:
    """Mean square of each harmonic of the mains below half the sample rate."""
    held: list[float] = []
    for order in range(1, int(rule("hum-harmonics")) + 1):
        hz = order * mains
        if spectrum.bin(hz) + spectrum.reach + 2 >= spectrum.power.size:
            break
        held.append(spectrum.tone(hz))
    return held
