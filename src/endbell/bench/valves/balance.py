"""A push-pull pair at rest: what is left over magnetises the output transformer's core."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt

from .bias import Sure


@dataclass(frozen=True, slots=True)
class Balance:
    """``share``: (first - second)/mean, with one sd; ``left_over``: the difference in A, which the
    core has to carry; ``more``: which of the two draws more, '' where that cannot be told."""

    share: Sure
    left_over: Sure
    more: str


def balance(first: Sure, second: Sure, names: tuple[str, str] = ("first", "second")) -> Balance:
    """Balance of two plate currents.

    >>> found = balance(Sure(0.036, 0.0005), Sure(0.032, 0.0005), ("V3", "V4"))
    >>> f"{found.share.value:.1%} {found.more}"
    '11.8% V3'
    """
    apart = first.value - second.value
    sd = hypot(_own(first), _own(second))
    mean = 0.5 * (first.value + second.value)
    share = apart / mean if mean > 0.0 else 0.0
    known = abs(apart) > 2.0 * sd
    more = (names[0] if apart > 0.0 else names[1]) if known else ""
    return Balance(
        Sure(share, sd / mean if mean > 0.0 else 0.0, "difference over the mean of both"),
        Sure(apart, sd),
        more,
    )


def _own(amp: Sure) -> float:
    """What the other one does not share of a standard deviation."""
    return sqrt(max(amp.sd**2 - (amp.common * amp.value) ** 2, 0.0))
