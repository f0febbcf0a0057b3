"""Preferred values: the E series of IEC 60063.

E6 to E96 stand in ``data/components/e_series.csv``; E192 is its rule, 100·10^(i/192) rounded, with
the one exception that the table beside it names.
"""

from __future__ import annotations

from functools import cache
from math import floor, log10

from ..facts import fact, facts
from ..figures import positive

SERIES = ("E3", "E6", "E12", "E24", "E48", "E96", "E192")


@cache
def numbers(series: str) -> tuple[int, ...]:
    """The numbers of one decade: 10 to 91 (two digits), from E48 on 100 to 988 (three).

    Raises ValueError for a series that does not exist.
    """
    if series == "E192":
        row = fact("components", "e_series_more", "E192_exception", "table")
        swap = {int(row["key"]): int(row["value"])}
        rule = (round(100 * 10 ** (i / 192)) for i in range(192))
        return tuple(swap.get(number, number) for number in rule)
    if series not in SERIES:
        raise ValueError(f"no series {series!r}: there are {', '.join(SERIES)}")
    table = "e_series_more" if series == "E3" else "e_series"
    return tuple(int(one) for one in fact("components", table, series, "table")["value"].split())


def series_of(tolerance: float) -> str:
    """The series made for a tolerance (fraction): E12 for 10 %, E24 for 5 %; the finest beyond."""
    rows = [row for row in facts("components", "e_series_more") if row["table"] == "tolerance"]
    for row in rows:
        if tolerance >= float(row["value"]) * (1 - 1e-9):
            return row["key"]
    return "E192"


def is_preferred(value: float, series: str) -> bool:
    """Whether ``value`` is a number of the series in some decade (to one part in a million)."""
    return abs(nearest(value, series) / value - 1.0) < 1e-6


def nearest(value: float, series: str) -> float:
    """The preferred value nearest to ``value`` by ratio; the lower of two that are as near.

    Raises ValueError for a value that is not above 0.

    >>> nearest(5100, "E12"), nearest(50e3, "E24")
    (4700.0, 51000.0)
    """
    positive("value", value)
    around = _around(value, series)
    return min(around, key=lambda one: (round(abs(log10(one / value)), 12), one))


def neighbours(value: float, series: str) -> tuple[float, float]:
    """The preferred values at or below and at or above ``value``."""
    positive("value", value)
    around = _around(value, series)
    return (
        max(one for one in around if one <= value * (1 + 1e-9)),
        min(one for one in around if one >= value * (1 - 1e-9)),
    )


def _around(value: float, series: str) -> list[float]:
    """Values of the decade that ``value`` is in, and of the two beside it."""
    own = numbers(series)
    scale = 10 if own[0] == 10 else 100
    decade = floor(log10(value))
    # an integer times or through a power of ten: exact where the value is
    return [_power(one, decade + step, scale) for step in (-1, 0, 1) for one in own]


def _power(number: int, decade: int, scale: int) -> float:
    places = decade - (1 if scale == 10 else 2)
    return float(f"{number}e{places}")
