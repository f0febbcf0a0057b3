"""A capacitor that discharges through a resistor: time, energy, charge.

V(t) = V0·exp(-t/RC), so t = R·C·ln(V0/V): Kirchhoff's law for one capacitor and one resistor, in
any textbook of circuits.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, inf, log

from ..figures import checked


def discharge_time(farad: float, ohm: float | None, start: float, target: float) -> float:
    """Seconds until ``farad`` charged to ``start`` volts is at ``target`` volts through ``ohm``.

    0 where it is there already; infinite where nothing discharges it (``ohm`` None or infinite).
    Polarity does not matter.  Raises ValueError for what cannot be.

    >>> round(discharge_time(100e-6, 220e3, 400, 60), 4)
    41.7366
    """
    checked("capacitance", farad, least=0.0)
    start, target = abs(checked("voltage", start)), abs(checked("voltage", target))
    if start <= target:
        return 0.0
    if ohm is None or ohm == inf:
        return inf
    checked("resistance", ohm, least=0.0)
    if target == 0:
        return inf
    return ohm * farad * log(start / target)


def volts_after(farad: float, ohm: float | None, start: float, seconds: float) -> float:
    """Volts left after ``seconds``: what :func:`discharge_time` solves for the time."""
    checked("capacitance", farad, least=0.0)
    checked("voltage", start)
    checked("time", seconds, least=0.0)
    if ohm is None or ohm == inf:
        return start
    checked("resistance", ohm, least=0.0)
    if ohm * farad == 0:
        return 0.0 if seconds > 0 else start
    return start * exp(-seconds / (ohm * farad))


def stored_energy(farad: float, volts: float) -> float:
    """Joules in a capacitor: C·V²/2."""
    checked("capacitance", farad, least=0.0)
    return 0.5 * farad * checked("voltage", volts) ** 2


def stored_charge(farad: float, volts: float) -> float:
    """Coulombs in a capacitor: C·V."""
    checked("capacitance", farad, least=0.0)
    return farad * abs(checked("voltage", volts))


def in_parallel(farads: Sequence[float]) -> float:
    """Farads of capacitors side by side: their sum."""
    return sum(checked("capacitance", farad, least=0.0) for farad in farads)


def resistors_in_parallel(ohms: Sequence[float]) -> float | None:
    """Ohms of resistors side by side; None where there is none: nothing discharges."""
    siemens = 0.0
    for ohm in ohms:
        if checked("resistance", ohm, least=0.0) == 0:
            return 0.0
        siemens += 1.0 / ohm
    return 1.0 / siemens if siemens > 0 else None
