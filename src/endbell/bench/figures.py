"""Figures that a computation can take: finite, and not below what is possible."""

from __future__ import annotations

from math import isfinite


def checked(what: str, value: float, least: float | None = None) -> float:
    """``value`` if it is a finite number not below ``least``.

    Raises ValueError with a sentence that says what was found and what would do.
    """
    if not isfinite(value):
        raise ValueError(f"a {what} of {value} is no figure: a finite number is needed")
    if least is not None and value < least:
        raise ValueError(f"a {what} of {value:g} cannot be: {least:g} or more is needed")
    return value


def positive(what: str, value: float) -> float:
    """``value`` if it is a finite number above 0.

    Raises ValueError with a sentence, as :func:`checked` does.
    """
    if not checked(what, value) > 0:
        raise ValueError(f"a {what} of {value:g} cannot be: more than 0 is needed")
    return value
