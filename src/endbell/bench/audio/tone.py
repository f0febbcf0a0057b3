"""One tone and what an amp adds to it: harmonics, THD, THD+N.

Definitions of IEC 60268-3 (from memory): total harmonic distortion is the rms of the harmonics over
the rms of the *whole* signal; the ratio to the fundamental is given beside it and is the larger one
(by 0.5 % of itself at a distortion of 10 %).  THD+N is the rms of all that is left in the audio
band when the fundamental is taken out, over the rms of the whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from .arrays import Floats, db, root_mean_square
from .errors import RecordingError
from .rules import rule
from .spectrum import Spectrum, spectra

_STRETCH = 4.0  # s: little noise under a harmonic, and no time for a clock to drift


@dataclass(frozen=True, slots=True)
class Tone:
    """``hertz``: fundamental; ``drift``: by what fraction it changed from the first stretch to the
    last; ``rms``: of the fundamental; ``harmonics``: rms of the 2nd, 3rd, ...; ``rest``: rms of all
    but the fundamental, in the audio band; ``whole``: rms of all in it; ``offset``: the constant
    part, which counts nowhere.  In the unit of the samples.
    """

    hertz: float
    drift: float
    rms: float
    harmonics: tuple[float, ...]
    rest: float
    whole: float
    offset: float

    @property
    def distortion(self) -> float:
        """Rms of the harmonics together."""
        return sqrt(sum(h * h for h in self.harmonics))

    @property
    def thd(self) -> float:
        """Harmonics over fundamental with harmonics, 0 to 1 (IEC 60268-3)."""
        return self.distortion / sqrt(self.rms**2 + self.distortion**2)

    @property
    def thd_of_fundamental(self) -> float:
        """Harmonics over the fundamental alone."""
        return self.distortion / self.rms

    @property
    def thd_noise(self) -> float:
        """THD+N: all but the fundamental, over all, 0 to 1."""
        return self.rest / self.whole

    @property
    def thd_db(self) -> float:
        """THD in dB, relative to the whole."""
        return db(self.thd)


def measure_tone(
    samples: Floats,
    rate: float,
    *,
    near: float | None = None,
    stretch: float = _STRETCH,
) -> Tone:
    """Measure a steady tone.  ``near``: roughly its frequency (Hz), if known; else the strongest.

    Each stretch finds its own fundamental, so neither a clock that is off nor one that drifts
    matters; the mean squares of all are averaged.  Noise under a harmonic's lobe is taken off.
    Raises RecordingError where there is no tone, or too few periods to tell harmonics apart.
    """
    low, high = rule("band-low"), min(rule("band-high"), 0.499 * rate)
    top = int(rule("harmonics"))
    found: list[tuple[float, float, float, float]] = []
    harmonics: list[Floats] = []
    for spectrum in spectra(samples, rate, stretch):
        hz = fundamental(spectrum, near)
        lobe = spectrum.lobe(hz)
        under = spectrum.floor(hz) * (lobe.stop - lobe.start)
        own = float(spectrum.power[lobe].sum())
        band = spectrum.between(low, high)
        rest = max(band - own, 0.0) + min(under, own)
        found.append((hz, max(own - under, 0.0), rest, band))
        harmonics.append(
            np.array(
                [spectrum.tone(k * hz) if k * hz < 0.49 * rate else 0.0 for k in range(2, top + 1)]
            )
        )
    table = np.array(found)
    mean = table.mean(axis=0)
    return Tone(
        hertz=float(mean[0]),
        drift=float(table[-1, 0] / table[0, 0] - 1.0),
        rms=sqrt(float(mean[1])),
        harmonics=tuple(float(h) for h in np.sqrt(np.mean(harmonics, axis=0))),
        rest=sqrt(float(mean[2])),
        whole=sqrt(float(mean[3])),
        offset=float(samples.mean()),
    )


def fundamental(spectrum: Spectrum, near: float | None = None) -> float:
    """Frequency of the strongest tone (Hz), within a tenth of ``near`` where that is given.

    Raises RecordingError where nothing stands out, or its harmonics cannot be told apart.
    """
    low = max(spectrum.bin(rule("band-low")), spectrum.reach + 1)
    high = spectrum.power.size
    if near is not None:
        low, high = max(low, spectrum.bin(0.9 * near)), min(high, spectrum.bin(1.1 * near) + 2)
    if low >= high:
        raise RecordingError(
            "it is too short to find the tone in" if near is None else f"no tone near {near:g} Hz",
            "Record the tone for ten seconds",
        )
    at = low + int(np.argmax(spectrum.power[low:high]))
    hz = spectrum.centre(at * spectrum.hertz)
    wide = 2 * spectrum.reach + 3
    if spectrum.power[at] <= 0.0 or hz / spectrum.hertz < wide:
        raise RecordingError(
            "it holds too few periods of its tone",
            f"Record the tone for {max(wide / max(hz, 1.0) * 2, 1.0):.0f} s at least",
        )
    if spectrum.tone(hz) < 4.0 * spectrum.floor(hz) * wide:
        raise RecordingError(
            "no tone stands out of its noise",
            "Record a sine, 1 kHz unless told otherwise, well above the hum of the amp",
        )
    return hz


def refuse_quiet(samples: Floats) -> None:
    """Raise RecordingError where the signal is too far below full scale to be measured."""
    level = db(root_mean_square(samples - samples.mean()) * sqrt(2.0))
    if level < rule("too-quiet"):
        raise RecordingError(
            f"the signal lies {-level:.0f} dB below full scale",
            "Turn the interface up until the peaks lie 3 to 20 dB below full scale",
        )
