"""Turns ratios and the impedance a primary shows: the ideal transformer with its copper.

V1/V2 = N1/N2 = n unloaded; a load R at the secondary shows as n²·R at the primary (any textbook).
"""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot, sqrt

from ..figures import checked, positive


def turns_ratio(primary: float, secondary: float) -> float:
    """Primary over secondary turns from the two voltages, rms, nothing connected.

    Raises ValueError where one is not positive.
    """
    return positive("primary voltage", primary) / positive("secondary voltage", secondary)


def ratio_spread(
    primary: float, secondary: float, primary_spread: float, secondary_spread: float
) -> float:
    """One standard deviation of :func:`turns_ratio`: relative spreads add in squares."""
    ratio = turns_ratio(primary, secondary)
    return ratio * hypot(primary_spread / primary, secondary_spread / secondary)


def reflected(
    ratio: float, load: float, primary_ohm: float = 0.0, secondary_ohm: float = 0.0
) -> float:
    """Impedance the primary shows in mid-band, ohm: n²·(R_load + R_secondary) + R_primary.

    >>> reflected(28.6, 8.0)
    6543.68
    """
    positive("ratio", ratio)
    load = checked("load", load, least=0.0) + checked("resistance", secondary_ohm, least=0.0)
    return ratio**2 * load + checked("resistance", primary_ohm, least=0.0)


def ratio_for(primary: float, load: float) -> float:
    """Turns ratio that makes ``load`` show as ``primary`` ohm: √(Z/R)."""
    return sqrt(checked("impedance", primary, least=0.0) / positive("load", load))


def reflected_table(
    ratios: Mapping[str, float], loads: tuple[float, ...]
) -> Mapping[str, Mapping[float, float]]:
    """Primary impedance for every tap (by its ratio) with every load: ohm by tap, then load."""
    return {tap: {load: reflected(ratio, load) for load in loads} for tap, ratio in ratios.items()}


def copper_loss(ratio: float, load: float, primary_ohm: float, secondary_ohm: float) -> float:
    """Share of the power lost in the copper, 0 to 1: 1 - n²·R_load / (all of it)."""
    whole = reflected(ratio, load, primary_ohm, secondary_ohm)
    return 0.0 if whole == 0 else 1.0 - ratio**2 * load / whole
