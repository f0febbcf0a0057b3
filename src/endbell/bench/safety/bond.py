"""The earth bond: what of a reading is the cord's."""

from __future__ import annotations

from math import ceil

from ..figures import checked


def cord_resistance(metres: float, ohm_per_metre: float) -> float:
    """Ohms of the cord's earth conductor: length times resistance per metre (IEC 60228)."""
    checked("length", metres, least=0.0)
    return metres * checked("resistance per metre", ohm_per_metre, least=0.0)


def by_length(
    base_ohm: float,
    metres: float,
    base_metre: float,
    step_metre: float,
    step_ohm: float,
    most: float,
) -> float:
    """The limit where a code goes by the cord's length: ``base_ohm`` up to ``base_metre``, then
    ``step_ohm`` more for each ``step_metre`` or part of it, ``most`` at most.

    >>> by_length(0.3, 12.5, 5, 7.5, 0.1, 1.0)
    0.4
    """
    beyond = max(checked("length", metres, least=0.0) - base_metre, 0.0)
    # a hundredth of a step is not worth a step
    steps = ceil(round(beyond / step_metre, 2))
    return min(round(base_ohm + steps * step_ohm, 6), most)
