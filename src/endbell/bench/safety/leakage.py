"""Leakage and touch current: what a voltage across a measuring network says in amperes."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi, sqrt

from ..figures import checked


@dataclass(frozen=True, slots=True)
class Network:
    """A measuring network. The simple kind is ``series_ohm`` with ``parallel_farad`` across it.

    With a ``body_ohm`` it is that of IEC 60990: the first two in series with the body's resistance,
    across which ``filter_ohm`` and ``filter_farad`` weigh higher frequencies less; the voltmeter is
    at the filter's capacitor (U2).
    """

    id: str
    title: str
    series_ohm: float
    parallel_farad: float
    source: str
    confidence: str
    body_ohm: float | None = None
    filter_ohm: float | None = None
    filter_farad: float | None = None


def impedance(network: Network, hertz: float) -> float:
    """Ohms that the leakage meets at ``hertz``: |R ∥ C|, plus the body's resistance."""
    checked("frequency", hertz, least=0.0)
    turn = 2 * pi * hertz * network.series_ohm * network.parallel_farad
    # R/(1 + jx) = R(1 - jx)/(1 + x²)
    real = network.series_ohm / (1 + turn**2) + (network.body_ohm or 0.0)
    return hypot(real, network.series_ohm * turn / (1 + turn**2))


def leakage(network: Network, volts: float, hertz: float) -> float:
    """Amperes rms of leakage from the ``volts`` rms read at the network at ``hertz``.

    Simple network: V·√(1 + (2πf·R·C)²)/R.  Of IEC 60990: U2/500 Ω, the weighted touch current (its
    clause for U2); the filter is part of the weighing and is not taken out again.
    """
    checked("voltage", volts)
    if network.body_ohm:
        return volts / network.body_ohm
    return volts / impedance(network, hertz)


def filter_share(network: Network, hertz: float) -> float:
    """U2 over U1 of the network of IEC 60990: 1/√(1 + (2πf·R·C)²) of its filter; 1 without one."""
    if not network.filter_ohm or not network.filter_farad:
        return 1.0
    return 1.0 / hypot(1.0, 2 * pi * hertz * network.filter_ohm * network.filter_farad)


def capacitor_current(farad: float, volts: float, hertz: float) -> float:
    """Amperes rms through a capacitor across the mains: 2πf·C·V."""
    checked("capacitance", farad, least=0.0)
    return 2 * pi * hertz * farad * abs(volts)


def peak_of_sine(rms: float) -> float:
    """Peak of a sine of that rms value."""
    return sqrt(2.0) * rms
