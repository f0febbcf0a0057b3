"""The exponential sweep of Farina (2000), and the response an amp gives to it.

A. Farina, 'Simultaneous measurement of impulse response and distortion with a swept-sine
technique', AES 108th convention, preprint 5093.  A sine whose frequency rises by the same ratio
each second is divided out of the recording; what remains is the impulse response.  The harmonics of
order n were played as the sweep itself, earlier by T ln(n) / ln(f2/f1): their responses stand apart
in front of the linear one and are cut out by time.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import log, pi

import numpy as np

from .arrays import Floats, Singles, back_long, grid, quick_length, transform, transform_long
from .errors import RecordingError
from .stretch import clock_error

_ORDERS = 6
_TAIL = 0.5  # s of the linear impulse response that is kept: 20 Hz has died away by then
_SHORT = 0.03  # s on either side of the peak that are kept for what lies above _HIGH
_HIGH = 2000.0  # Hz
_EDGE = 1.25  # outside the band of the sweep by this ratio nothing is divided any more


@dataclass(frozen=True, slots=True)
class Sweep:
    """From ``low`` to ``high`` Hz in ``seconds``, faded over ``fade`` s at both ends."""

    low: float = 10.0
    high: float = 21500.0
    seconds: float = 10.0
    fade: float = 0.02

    @property
    def growth(self) -> float:
        """ln(high/low)."""
        return log(self.high / self.low)

    @property
    def told(self) -> tuple[float, float]:
        """The range a response is told in, Hz: at its very ends a sweep has little to say."""
        return self.low * 1.15, self.high / 1.03

    def ahead(self, order: int) -> float:
        """How long before the linear response that of a harmonic stands, s."""
        return self.seconds * log(order) / self.growth

    def samples(self, rate: float, stretched: float = 0.0) -> Floats:
        """The sweep at ``rate`` Hz with peaks of 1; ``stretched``: longer by this fraction, as a
        recorder hears it whose clock is faster than the player's.

        Raises RecordingError where the sweep cannot be played at that rate.
        """
        self.check(rate)
        seconds = self.seconds * (1.0 + stretched)
        n = round(seconds * rate)
        over = seconds / self.growth
        turns = self.low / (1.0 + stretched) * over
        phase = np.expm1(np.arange(n) * (1.0 / (rate * over)))
        phase *= 2.0 * pi * turns
        wave = np.sin(phase, out=phase)
        edge = min(max(int(self.fade * rate), 1), n // 4)
        ramp = 0.5 - 0.5 * np.cos(pi * (np.arange(edge) + 0.5) / edge)
        wave[:edge] *= ramp
        # the top octave passes in a moment: fade it only where it lies above what is asked about
        short = min(edge, max(int(0.2 * seconds / self.growth * log(1.1) * rate), 1))
        wave[-short:] *= 0.5 + 0.5 * np.cos(pi * (np.arange(short) + 0.5) / short)
        return wave

    def check(self, rate: float) -> None:
        """Raise RecordingError where the sweep makes no sense at ``rate``."""
        if not (0.0 < self.low < self.high < 0.5 * rate) or not self.seconds > 0.0:
            raise RecordingError(
                f"a sweep from {self.low:g} to {self.high:g} Hz in {self.seconds:g} s cannot be "
                f"recorded at {rate:g} Hz",
                "Give hz_from, hz_to (below half the sample rate) and seconds as it was played",
            )


@dataclass(frozen=True, slots=True)
class Response:
    """``impulse``: the linear impulse response, shape (n,), its peak at ``peak``; ``harmonics``:
    those of order 2, 3, ... aligned the same way; ``clock``: by what fraction the recorder's clock
    ran faster than the player's; ``delay``: s from the start of the file to that of the sweep.
    """

    sweep: Sweep
    rate: float
    impulse: Floats
    peak: int
    harmonics: tuple[Floats, ...] = field(default_factory=tuple)
    clock: float = 0.0
    delay: float = 0.0

    def gain(self, hz: Floats) -> Floats:
        """Gain at each ``hz``: voltage out over the sweep's, linear; nan outside what it told."""
        short = _cut(self.impulse, self.peak, int(_SHORT * self.rate), int(_SHORT * self.rate))
        # high notes have died away soon after the peak: the rest of the time holds but noise
        high = _at(short, self.rate, hz)
        both = np.where(hz < _HIGH, _at(self.impulse, self.rate, hz), high)
        return np.where(self._within(hz), both, np.nan)

    def decibels(self, hz: Floats, reference: float = 1000.0) -> Floats:
        """Response at each ``hz`` in dB relative to that at ``reference`` Hz."""
        zero = float(self.gain(np.array([reference]))[0])
        return 20.0 * np.log10(np.maximum(self.gain(hz), 1e-30) / zero)

    def distortion(self, order: int, hz: Floats) -> Floats:
        """Harmonic of ``order`` made of a tone of ``hz``, over that tone at the output; nan where
        it lies outside what it told.
        """
        made = _at(self.harmonics[order - 2], self.rate, order * hz)
        inside = self._within(hz) & (order * hz <= self.sweep.high)
        return np.where(inside, made / np.maximum(self.gain(hz), 1e-30), np.nan)

    def thd(self, hz: Floats) -> Floats:
        """All harmonics that were told apart, together, over the tone, at each ``hz``."""
        orders = range(2, len(self.harmonics) + 2)
        squares = [np.nan_to_num(self.distortion(order, hz)) ** 2 for order in orders]
        return np.sqrt(np.sum(squares, axis=0))

    def _within(self, hz: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        low, high = self.sweep.told
        return (hz >= low) & (hz <= high)


def response(samples: Floats, rate: float, sweep: Sweep) -> Response:
    """Impulse response and harmonics from a recording that holds the whole sweep.

    The recorder may have started any time before; the player's clock may be off by 0.1 %: it is
    found from the order in which low and high notes arrive, and the sweep stretched by as much.
    Raises RecordingError where the recording is shorter than the sweep, or holds another signal.
    """
    n = quick_length(samples.size + int(0.1 * rate))
    sweep.check(rate)
    if samples.size < 0.99 * sweep.seconds * rate:
        raise RecordingError(
            f"it lasts {samples.size / rate:.1f} s and the sweep {sweep.seconds:g} s",
            "Start the recorder before the sweep and stop it a second after",
        )
    heard = transform_long(samples - samples.mean(), n)
    clock = clock_error(heard, n, rate, sweep.low, sweep.high, sweep.seconds)
    played = sweep.samples(rate, clock if abs(clock) > 2e-6 else 0.0)
    impulse = back_long(_divided(heard, transform_long(played, n), n, rate, sweep), n)
    peak = int(np.argmax(np.abs(impulse)))
    tail = int(_TAIL * rate)
    gap = sweep.ahead(2)
    before = int(min(0.5 * gap, _TAIL) * rate)
    linear = _cut(impulse, peak, before, tail)
    near = _cut(impulse, peak, int(_SHORT * rate), int(_SHORT * rate))
    # the wrong sweep, or none, is smeared over seconds; noise and harmonics take the lesser part
    if float(np.dot(near, near)) < 0.3 * float(np.dot(impulse, impulse)):
        raise RecordingError(
            "it does not hold the sweep that was named",
            "Give hz_from, hz_to and seconds as it was played, and record it whole",
        )
    harmonics: list[Floats] = []
    for order in range(2, _ORDERS + 1):
        at = peak - round(sweep.ahead(order) * (1.0 + clock) * rate)
        room = sweep.ahead(order + 1) - sweep.ahead(order)
        harmonics.append(
            _cut(impulse, at, int(0.5 * room * rate), int(min(0.5 * room, _TAIL) * rate))
        )
    return Response(sweep, rate, linear, before, tuple(harmonics), clock, float(peak) / rate)


def _divided(heard: Singles, played: Singles, n: int, rate: float, sweep: Sweep) -> Singles:
    """What was heard over what was played, inside the sweep's band and fading out beyond it."""
    hertz = rate / n
    first, last = int(sweep.low / _EDGE / hertz), int(min(sweep.high * 1.02, rate / 2) / hertz)
    out = np.zeros_like(heard)
    band = slice(max(first, 1), last + 1)
    inside = played[band]
    strength = inside.real**2 + inside.imag**2
    hz = grid(band.start, band.start + inside.size, hertz)
    # the least that an even sweep has anywhere inside: weaker is outside, and noise
    usual = (rate * rate) * sweep.seconds / (4.0 * sweep.growth) / np.maximum(hz, sweep.low)
    ratio = heard[band] * inside.conj()
    ratio /= np.maximum(strength, 1e-3 * usual)
    ratio *= np.clip(np.log(hz * _EDGE / sweep.low) / log(_EDGE), 0.0, 1.0)
    out[band] = ratio
    return out


def _cut(impulse: Floats, at: int, before: int, after: int) -> Floats:
    """A stretch around ``at``, across the ends of ``impulse`` where need be, faded at its ends."""
    index = np.arange(at - before, at + after) % impulse.size
    held = impulse[index]
    edge = max(min(before, after) // 4, 1)
    ramp = 0.5 - 0.5 * np.cos(pi * (np.arange(edge) + 0.5) / edge)
    held[:edge] *= ramp
    held[-edge:] *= ramp[::-1]
    return held


def _at(impulse: Floats, rate: float, hz: Floats) -> Floats:
    """Magnitude of the spectrum of ``impulse`` at each ``hz``, straight between fine bins."""
    n = quick_length(4 * impulse.size)
    size = np.abs(transform(impulse, n))
    where = np.clip(np.asarray(hz, float) * n / rate, 0.0, size.size - 1.0)
    return np.interp(where, np.arange(size.size), size)
