"""A supply from its winding to its rails: DC, ripple, and what the rectifier has to carry.

Capacitor input is solved in the time domain: the reservoir's voltage over one period is found so
that it ends where it began, with the winding's resistance and the rectifier's own law in the way.
Choke input follows the textbook's Fourier series.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from .rectifier import Rectifier

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

_STEPS = 400  # of one charging period
_HARMONICS = 8


@dataclass(frozen=True, slots=True)
class Winding:
    """What feeds the rectifier. ``volts``: V rms without load, of each half where centre-tapped;
    ``ohm``: resistance in the charging path, primary reflected (:func:`source_ohm`)."""

    volts: float
    ohm: float
    hz: float
    kind: str = "full-wave"  # 'full-wave' (centre tap), 'bridge', 'half-wave', 'doubler'

    @property
    def peak(self) -> float:
        """Peak voltage of what one rectifier sees."""
        return self.volts * sqrt(2.0)


@dataclass(frozen=True, slots=True)
class Section:
    """A filter section after the reservoir: a resistor or a choke, then a capacitor, and what is
    drawn from its rail (A)."""

    ohm: float
    farad: float
    amp: float = 0.0
    henry: float = 0.0


@dataclass(frozen=True, slots=True)
class Rail:
    """A rail: DC volts, ripple as V rms and V peak to peak."""

    volts: float
    ripple: float
    ripple_peak: float


@dataclass(frozen=True, slots=True)
class Supplied:
    """The reservoir and the rails after it; ``peak_amp``: of each rectifier; ``winding_amp``: A rms
    in the charging path; ``turn_hz``: charging pulses a second, the ripple's fundamental."""

    rails: tuple[Rail, ...]
    peak_amp: float
    winding_amp: float
    turn_hz: float


class NoSupply(ValueError):
    """The supply cannot be as it is described."""


def source_ohm(secondary_ohm: float, primary_ohm: float, ratio: float) -> float:
    """Resistance in the charging path: the conducting secondary's own, and the primary's times the
    square of ``ratio`` (that secondary's volts over the primary's)."""
    return secondary_ohm + primary_ohm * ratio * ratio


def capacitor_input(
    winding: Winding,
    rectifier: Rectifier,
    farad: float,
    amp: float,
    sections: Sequence[Section] = (),
    load_ohm: float | None = None,
) -> Supplied:
    """Reservoir of ``farad`` F drawn on by ``amp`` A (besides what the sections draw), and by
    ``load_ohm`` if given.  :class:`NoSupply` for impossible parts."""
    _check(winding, farad, amp)
    total = amp + sum(section.amp for section in sections)
    if winding.kind == "doubler":
        half, current = _period(winding, rectifier, farad, total, None)
        wave = half + np.roll(half, _STEPS // 2)
        span = 1.0 / winding.hz
    else:
        wave, current = _period(winding, rectifier, farad, total, load_ohm)
        span = _span(winding)
    lines = np.fft.rfft(wave)[1 : _HARMONICS + 1] * (2.0 / _STEPS)
    dc = float(np.mean(wave))
    rails = [Rail(dc, float(np.std(wave)), float(np.ptp(wave)))]
    rails += _ladder(dc, lines, 1.0 / span, sections)
    # the charging path of a centre tap rests every other pulse
    share = 0.5 if winding.kind == "full-wave" else 1.0
    rms = sqrt(share * float(np.mean(current**2)))
    pulses = 2.0 * winding.hz if winding.kind == "doubler" else 1.0 / span
    return Supplied(tuple(rails), float(np.max(current)), rms, pulses)


def choke_input(
    winding: Winding,
    rectifier: Rectifier,
    henry: float,
    choke_ohm: float,
    farad: float,
    amp: float,
) -> Supplied:
    """Choke input, full-wave or bridge, above its critical current.

    DC is the average of the rectified sine less the drops; ripple the second harmonic alone:
    ``4 Vp/(3 pi sqrt(2))`` over ``(2w)^2 L C - 1``.  :class:`NoSupply` below the critical current,
    where the choke lets go and the voltage climbs towards the peak.
    """
    _check(winding, farad, amp)
    least = critical_amp(winding, henry)
    if amp < least:
        raise NoSupply(
            f"a choke of {henry:g} H holds from {least * 1e3:.3g} mA on; at {amp * 1e3:.3g} mA the "
            f"rail climbs towards the peak of {winding.peak:.0f} V: add a bleeder"
        )
    diodes = 2.0 if winding.kind == "bridge" else 1.0
    drops = diodes * rectifier.drop(amp) + amp * (winding.ohm + choke_ohm)
    turn = 2.0 * pi * 2.0 * winding.hz
    ripple = 4.0 * winding.peak / (3.0 * pi * sqrt(2.0)) / (turn * turn * henry * farad - 1.0)
    rail = Rail(2.0 * winding.peak / pi - drops, ripple, 2.0 * sqrt(2.0) * ripple)
    swing = 4.0 * winding.peak / (3.0 * pi) / (turn * henry)
    return Supplied((rail,), amp + swing, sqrt(amp**2 + swing**2 / 2.0), 2.0 * winding.hz)


def critical_amp(winding: Winding, henry: float) -> float:
    """The current from which a choke's never stops: its ripple's amplitude (second harmonic)."""
    return 4.0 * winding.peak / (3.0 * pi) / (4.0 * pi * winding.hz * henry)


def textbook_ripple(amp: float, farad: float, turn_hz: float) -> float:
    """Ripple of a reservoir in V rms, its discharge taken as a straight line: I/(2 sqrt(3) f C),
    with f the number of charging pulses a second."""
    return amp / (2.0 * sqrt(3.0) * turn_hz * farad)


def _span(winding: Winding) -> float:
    return (1.0 if winding.kind == "half-wave" else 0.5) / winding.hz


def _period(
    winding: Winding, rectifier: Rectifier, farad: float, amp: float, load_ohm: float | None
) -> tuple[Floats, Floats]:
    """Reservoir voltage and charging current over one period, by the trapezoidal rule closed on
    itself and Newton's method."""
    one_way = winding.kind in ("half-wave", "doubler")
    span = (1.0 if one_way else 0.5) / winding.hz
    time = np.arange(_STEPS) * span / _STEPS
    sine = winding.peak * np.sin(2.0 * pi * winding.hz * time)
    driven = sine if one_way else np.abs(sine)
    diodes = 2.0 if winding.kind == "bridge" else 1.0
    leak = 0.0 if load_ohm is None else 1.0 / load_ohm
    rate = farad * _STEPS / span
    volts = np.full(_STEPS, 0.9 * winding.peak)
    current = np.zeros(_STEPS)
    for _round in range(200):
        # two diodes in series are one with half the voltage and half the resistance
        pulse, slope = rectifier.through((driven - volts) / diodes, winding.ohm / diodes)
        current, slope = pulse, slope / diodes
        net, bend = current - amp - leak * volts, -slope - leak
        rest = rate * (np.roll(volts, -1) - volts) - 0.5 * (net + np.roll(net, -1))
        step = _cyclic(-rate - 0.5 * bend, rate - 0.5 * np.roll(bend, -1), -rest)
        volts = volts + np.clip(step, -0.5 * winding.peak, 0.5 * winding.peak)
        if float(np.max(np.abs(step))) < 1e-9 * winding.peak:
            break
    if float(np.min(volts)) <= 0.0:
        raise NoSupply(
            f"{amp * 1e3:.3g} mA is more than this winding and rectifier can hold up: the "
            "reservoir runs empty every turn"
        )
    return volts, current


def _cyclic(here: Floats, following: Floats, rest: Floats) -> Floats:
    """Solve ``here[j] x[j] + following[j] x[j+1] = rest[j]`` with x closed on itself."""
    constant, factor = 0.0, 1.0
    steps = list(zip(here.tolist(), following.tolist(), rest.tolist(), strict=True))
    for a, b, r in steps:
        constant, factor = (r - a * constant) / b, -a * factor / b
    first = constant / (1.0 - factor)
    out = [first]
    for a, b, r in steps[:-1]:
        out.append((r - a * out[-1]) / b)
    return np.array(out)


def _ladder(dc: float, lines: Complexes, turn_hz: float, sections: Sequence[Section]) -> list[Rail]:
    """DC and ripple at each section's capacitor; each loads the one before it."""
    rails: list[Rail] = []
    angular = 2.0 * pi * turn_hz * np.arange(1, len(lines) + 1)
    series = [s.ohm + 1j * angular * s.henry for s in sections]
    shunt = [1.0 / (1j * angular * s.farad) for s in sections]
    into: list[Complexes] = []
    beyond: Complexes | None = None
    for ohm, cap in zip(reversed(series), reversed(shunt), strict=True):
        node = np.asarray(cap if beyond is None else cap * beyond / (cap + beyond), complex)
        into.insert(0, node)
        beyond = np.asarray(ohm + node, complex)
    left = [sum(s.amp for s in sections[n:]) for n in range(len(sections))]
    for n, section in enumerate(sections):
        dc -= section.ohm * left[n]
        lines = lines * into[n] / (series[n] + into[n])
        time = np.exp(1j * np.outer(np.arange(1, len(lines) + 1), np.linspace(0, 2 * pi, 257)))
        wave = np.real(lines @ time)
        rails.append(
            Rail(dc, float(np.sqrt(np.sum(np.abs(lines) ** 2) / 2.0)), float(np.ptp(wave)))
        )
    return rails


def _check(winding: Winding, farad: float, amp: float) -> None:
    if winding.kind not in ("full-wave", "bridge", "half-wave", "doubler"):
        raise NoSupply(f"no supply of kind '{winding.kind}': full-wave, bridge, half-wave, doubler")
    if not (winding.volts > 0.0 and winding.hz > 0.0 and farad > 0.0):
        raise NoSupply(
            "a supply needs a winding's volts, a mains frequency and a capacitor above 0"
        )
    if not winding.ohm > 0.0:
        raise NoSupply("a winding has a resistance: measure it, it sets the rail under load")
    if not amp >= 0.0:
        raise NoSupply(f"a rail cannot draw {amp:g} A")
