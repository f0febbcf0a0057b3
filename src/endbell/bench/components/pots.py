"""A pot's law from readings along its turn: linear, logarithmic, reverse."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import sqrt

from ..facts import facts
from ..figures import checked


@dataclass(frozen=True, slots=True)
class Law:
    """``taper``: id of the nearest law; ``family``: 'linear', 'log', 'reverse log'; ``off``: rms
    distance of the readings from it, a share of the track; ``half``: share at half way, if read.
    """

    taper: str
    title: str
    family: str
    off: float
    half: float | None


def law_of(points: Mapping[float, float]) -> Law:
    """The nearest law to readings: share of the track by rotation, both 0 to 1, from the left lug.

    Of the laws of ``data/components/tapers.csv``, straight between their points.  Raises ValueError
    without a reading between the ends, or for shares that are none.
    """
    inner = {
        checked("rotation", at): checked("share", share)
        for at, share in points.items()
        if 0.0 < at < 1.0
    }
    if not inner:
        raise ValueError("a reading between the ends is needed: half way tells most")
    for at, share in points.items():
        if not (0.0 <= at <= 1.0 and -0.02 <= share <= 1.02):
            raise ValueError(
                f"a share of {share:g} at {at:.0%} of the turn cannot be: 0 to 1 of the whole track"
            )
    scored = [(_off(curve, inner), name) for name, (_, curve) in _laws().items()]
    off, name = min(scored)
    half = points.get(0.5)
    return Law(name, _laws()[name][0], family(name), off, half)


def family(taper: str) -> str:
    """'linear', 'log' or 'reverse log' of a law's id."""
    if taper.startswith("reverse"):
        return "reverse log"
    return "linear" if taper == "linear" else "log"


def share_at(taper: str, rotation: float) -> float:
    """What a law says at a rotation, 0 to 1."""
    return _at(_laws()[taper][1], rotation)


def rises(points: Mapping[float, float]) -> bool:
    """Whether the share grows along the turn, as every law does."""
    shares = [share for _, share in sorted(points.items())]
    return all(b >= a - 0.02 for a, b in pairwise(shares))


@cache
def _laws() -> dict[str, tuple[str, tuple[tuple[float, float], ...]]]:
    found: dict[str, tuple[str, tuple[tuple[float, float], ...]]] = {}
    for row in facts("components", "tapers"):
        point = (float(row["rotation"]), float(row["share"]))
        title, curve = found.get(row["taper"], (row["title"], ()))
        found[row["taper"]] = (title, (*curve, point))
    return found


def _off(curve: tuple[tuple[float, float], ...], points: Mapping[float, float]) -> float:
    return sqrt(sum((_at(curve, at) - share) ** 2 for at, share in points.items()) / len(points))


def _at(curve: tuple[tuple[float, float], ...], rotation: float) -> float:
    for (x0, y0), (x1, y1) in pairwise(curve):
        if rotation <= x1:
            return y0 + (y1 - y0) * (rotation - x0) / (x1 - x0)
    return curve[-1][1]
