"""Rectifiers: what a valve drops, and what silicon does not.

A valve rectifier follows the three-halves power law (Child and Langmuir), ``i = G v^1.5`` for each
plate; G is its perveance, from ``data/valves/rectifiers.csv``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from .models import UnknownValve, known_as
from .ratings import Figure, RatingSystem, rated, rating_systems
from .tables import figure, plain, rows

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Rectifier:
    """One plate and its cathode, or one diode. ``perveance``: A/V^1.5; None: silicon, which drops
    ``threshold`` V whatever it carries.  Ratings, None where no table says them: ``most_amp`` DC of
    the whole valve (A), ``peak_amp`` of each plate (A), ``reservoir`` the largest first capacitor
    (F)."""

    title: str
    perveance: float | None = None
    threshold: float = 0.0
    most_amp: Figure | None = None
    peak_amp: Figure | None = None
    reservoir: Figure | None = None
    system: RatingSystem | None = None

    def drop(self, amp: float) -> float:
        """Volts lost at ``amp`` A.

        >>> round(rectifier("GZ34").drop(0.225), 1)
        14.8
        """
        if self.perveance is None:
            return self.threshold
        return (amp / self.perveance) ** (2.0 / 3.0)

    def through(self, volts: Floats, ohm: float) -> tuple[Floats, Floats]:
        """Current and its slope when ``volts`` stand across rectifier and ``ohm`` in series."""
        forward = np.maximum(volts - self.threshold, 0.0)
        if self.perveance is None:
            return forward / ohm, np.where(forward > 0.0, 1.0 / ohm, 0.0)
        # with w^2 volts across the valve: v = w^2 + G R w^3, rising, so Newton comes down to it
        g, r = self.perveance, ohm
        w = np.sqrt(forward)
        for _round in range(30):
            rest = w * w * (1.0 + g * r * w) - forward
            step = rest / np.maximum(w * (2.0 + 3.0 * g * r * w), 1e-12)
            w = np.maximum(w - step, 0.0)
            if float(np.max(np.abs(step))) < 1e-12 * float(np.max(w) + 1.0):
                break
        return g * w**3, 3.0 * g * w / (2.0 + 3.0 * g * r * w)


@cache
def rectifier(designation: str) -> Rectifier:
    """A rectifier by name; 'silicon' is one too. :class:`~.models.UnknownValve` for others."""
    if plain(designation) == "SILICON":
        row = next(row for row in rows("rectifiers") if row["names"] == "silicon")
        volts = figure(row, "drop_V") or 0.0
        return Rectifier("silicon", None, volts)
    wanted = {plain(designation), plain(known_as(designation))}
    for row in rows("rectifiers"):
        if wanted & {plain(name) for name in row["names"].split(";")}:
            return Rectifier(
                row["title"],
                figure(row, "perveance"),
                0.0,
                rated(row, "max_dc_output_mA", 1e-3),
                rated(row, "max_peak_plate_A_each"),
                rated(row, "max_reservoir_uF", 1e-6),
                rating_systems()[row["rating_system"]],
            )
    known = ", ".join(row["title"] for row in rows("rectifiers"))
    raise UnknownValve(f"no rectifier '{designation}' is known. Known: {known}")
