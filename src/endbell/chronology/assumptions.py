"""The numbers in force: the packs' values, what overrides them, and the bounds that make sense."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite

from ..reference.types import Reference

POSITIVE = (
    ".median_weeks",
    ".sigma",
    ".old_stock_mean_weeks",
    ".concentration",
    ".lag_median_weeks",
    ".lag_sigma",
    ".soft_weeks",
    ".half_width_weeks",
)
"""Endings of names whose value must lie above 0: sums divide by them or take their logarithm."""

BETWEEN = (".leak", ".misread", ".other_amp", ".hard_leak", ".before_weight", ".unexpected")
"""Endings of names that keep a mark from saying something with certainty: above 0 and below 1."""


class AssumptionError(ValueError):
    """An assumption outside what makes sense; says its name, what was found, what is accepted."""


def assumptions_in_force(reference: Reference, assume: Mapping[str, float]) -> dict[str, float]:
    """Every named number, with those given in ``assume`` in place of the packs'.

    Raises KeyError for a name that no pack has, AssumptionError for a value no sum can use.
    """
    values = {name: a.value for name, a in reference.assumptions.items()}
    for name in assume:
        if name not in values:
            raise KeyError(name)
    values.update(assume)
    for name, value in values.items():
        wanted = accepted(name, reference.assumptions[name].unit)
        if not isfinite(value) or not _fits(value, wanted):
            raise AssumptionError(f"{name} = {value:g}: expected {WORDS[wanted]}")
    return values


WORDS = {
    "positive": "a number above 0",
    "between": "a number above 0 and below 1",
    "share": "a number from 0 up to, but not including, 1",
    "probability": "a number from 0 to 1",
    "amount": "a number that is not negative",
}


def accepted(name: str, unit: str) -> str:
    """Which bounds hold for a name: a key of ``WORDS``."""
    if name.endswith(POSITIVE) and name != "stock_age.sigma":  # 0: all amps' stock is alike
        return "positive"
    if name.endswith(BETWEEN):
        return "between"
    if name.startswith(("married.", "replaced.")):
        return "share"
    return "probability" if unit == "probability" else "amount"


def _fits(value: float, wanted: str) -> bool:
    if wanted == "positive":
        return value > 0
    if wanted == "between":
        return 0 < value < 1
    if wanted == "share":
        return 0 <= value < 1
    return 0 <= value <= (1 if wanted == "probability" else value)
