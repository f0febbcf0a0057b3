"""Numbers as people read them: never a certainty that the number hasn't got."""

from __future__ import annotations


def percent(p: float) -> str:
    """A probability in words: 'over 99.9%' and 'under 0.1%' at the ends, never 0% or 100%.

    >>> percent(0.974), percent(0.99996), percent(0.00002), percent(0.9953), percent(0.031)
    ('97%', 'over 99.9%', 'under 0.1%', '99.5%', '3%')
    """
    if p >= 0.9995:
        return "over 99.9%"
    if p < 0.001:
        return "under 0.1%"
    if p >= 0.985:
        return f"{100 * p:.1f}%"
    if p < 0.015:
        return f"{100 * p:.1f}%"
    return f"{100 * p:.0f}%"
