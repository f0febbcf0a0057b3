"""Measured quantities: a figure about the mean of its alternative, or anywhere in reach."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, log10, sqrt

from ...reference.types import Quantity
from .dice import Dice

_FINER = 40  # figures are typed so many times finer than they spread


class Scale:
    """One quantity: its alternatives' means and deviations, its units."""

    def __init__(self, quantity: Quantity, factors: Mapping[str, float], leak: float) -> None:
        self._mean = {a.value: a.mean for a in quantity.alternatives}
        self._sd = {a.value: a.sd for a in quantity.alternatives}
        self._leak = leak
        self.unit = quantity.unit
        self.factors = {quantity.unit: 1.0, **factors}

    def value(self, dice: Dice, alternative: str, uncertainty: float) -> float:
        """A figure in the pack's unit."""
        widths = {v: sqrt(sd**2 + uncertainty**2) for v, sd in self._sd.items()}
        if dice.chance(self._leak):
            reach = 10.0 * max(widths.values())
            low, high = min(self._mean.values()) - reach, max(self._mean.values()) + reach
            return low + (high - low) * dice.u()
        return self._mean[alternative] + widths[alternative] * dice.normal()

    def rounded(self, value: float, factor: float) -> float:
        """As a person types it: no finer than it means anything."""
        least = min(sd for sd in self._sd.values()) or 1e-3
        return round(value, max(0, ceil(-log10(least / factor / _FINER))))

    def uncertainty(self, dice: Dice, unit: str) -> float:
        """An uncertainty to state, in that unit; 0 where none is."""
        if dice.chance(0.3):
            return 0.0
        size = (0.3 + dice.u()) * min(self._sd.values()) / self.factors[unit]
        return float(f"{size:.2g}") if size > 0 else 0.0
