"""Inductance from meters: voltage, current and frequency, the copper taken out.

|Z|² = R² + (2πf·L)² for a coil with resistance in series (any textbook).  A winding on iron has no
one inductance: it rises with level and falls with dc, so level and frequency belong to the figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

from ..figures import checked, positive


@dataclass(frozen=True, slots=True)
class Coil:
    """``henry``, and the resistance in series, ohm, that goes with it (copper and iron loss)."""

    henry: float
    ohm: float


def from_current(volts: float, amps: float, hertz: float, ohm: float = 0.0) -> Coil:
    """A coil from voltage and current (rms) at one frequency, its dc resistance known.

    L = √((V/I)² - R²)/(2πf).  Raises ValueError where that is no coil: V/I below R.
    """
    impedance = positive("voltage", volts) / positive("current", amps)
    checked("resistance", ohm, least=0.0)
    if impedance < ohm:
        raise ValueError(
            f"{impedance:.4g} ohm of impedance is less than the winding's own {ohm:.4g} ohm: is it "
            "the right winding, and were voltage and current read at the same time?"
        )
    return Coil(sqrt(impedance**2 - ohm**2) / (2 * pi * positive("frequency", hertz)), ohm)


def from_two(first: tuple[float, float, float], second: tuple[float, float, float]) -> Coil:
    """A coil from two sets of (volts, amps, hertz) at two frequencies, its resistance unknown.

    Z1² = R² + (ω1·L)², Z2² = R² + (ω2·L)², so L² = (Z2² - Z1²)/(ω2² - ω1²) and R² is what is left.
    Raises ValueError where the frequencies are alike or the figures are no coil's.
    """
    (v1, i1, f1), (v2, i2, f2) = sorted((first, second), key=lambda one: one[2])
    z1 = positive("voltage", v1) / positive("current", i1)
    z2 = positive("voltage", v2) / positive("current", i2)
    w1, w2 = (2 * pi * positive("frequency", f) for f in (f1, f2))
    if w2 < 1.01 * w1:
        raise ValueError(f"two frequencies apart are needed: {f1:g} and {f2:g} Hz are alike")
    square = (z2**2 - z1**2) / (w2**2 - w1**2)
    rest = z1**2 - w1**2 * square
    if square < 0:
        raise ValueError(
            "the impedance falls with frequency: that is a capacitance; measure lower down"
        )
    if rest < 0:
        if rest < -1e-6 * z1**2:
            raise ValueError(
                "the impedance rises faster than a coil's: a winding's capacitance takes part; "
                "measure lower down"
            )
        rest = 0.0
    return Coil(sqrt(square), sqrt(rest))


def from_resonance(hertz: float, farad: float) -> float:
    """Henry of a coil that resonates with ``farad`` at ``hertz``: 1/((2πf)²·C), Thomson."""
    return 1.0 / ((2 * pi * positive("frequency", hertz)) ** 2 * positive("capacitance", farad))


def lowest_hertz(henry: float, source_ohm: float, load_ohm: float) -> float:
    """Frequency where a primary of ``henry`` takes 3 dB off: (Rs ∥ RL)/(2πL).

    ``source_ohm``: plate resistance (plate to plate for a pair), ``load_ohm``: load as the primary
    shows it.
    """
    source, load = positive("resistance", source_ohm), positive("load", load_ohm)
    return source * load / (source + load) / (2 * pi * positive("inductance", henry))
