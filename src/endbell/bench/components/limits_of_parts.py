"""What a part may be off: drift, loss of an electrolytic, leakage by capacitance and voltage."""

from __future__ import annotations

from math import inf, pi

from ..facts import facts
from ..figures import checked, positive


def drift(measured: float, nominal: float) -> float:
    """How far a part has drifted, as a fraction of its marking: +0.3 is 30 % high."""
    return checked("reading", measured, least=0.0) / positive("nominal value", nominal) - 1.0


def esr_at_most(farad: float, loss: float, hertz: float) -> float:
    """Series resistance of a capacitor with that loss factor, ohm: tan δ/(2πf·C)."""
    return checked("loss factor", loss, least=0.0) / (
        2 * pi * positive("frequency", hertz) * positive("capacitance", farad)
    )


def electrolytic_leakage(farad: float, volts: float) -> tuple[float, str] | None:
    """Most leakage of an electrolytic, A, and the source: k·C + 0.3 mA, C in µF, k by rated voltage
    (specification JAN-C-62). None above the voltages it was written for.
    """
    microfarad = positive("capacitance", farad) * 1e6
    positive("rated voltage", volts)
    for row in facts("components", "leakage_factors"):
        if float(row["above_volt"]) < volts <= float(row["to_volt"]):
            milli = float(row["ma_per_uf"]) * microfarad + float(row["plus_ma"])
            return milli * 1e-3, row["source"]
    return None


def reforming_ohm(volts: float, most_amps: float) -> float:
    """Series resistor that keeps a shorted capacitor's current below ``most_amps``: V/I."""
    if most_amps <= 0:
        return inf
    return positive("voltage", volts) / most_amps
