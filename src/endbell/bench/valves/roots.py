"""Where an increasing function crosses zero, for many cases at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# From a place: the function there and its slope.
Rising = Callable[[Floats], tuple[Floats, Floats]]

_ROUNDS = 200


def crossing(function: Rising, low: Floats, high: Floats) -> Floats:
    """Where each element of a rising ``function`` is zero, between ``low`` and ``high``.

    Newton's method kept inside a bracket: a step that leaves the bracket, or does not halve it in
    two rounds, becomes a bisection, so it ends whatever the curve.  Where the function does not
    change sign in the bracket the end nearer to zero is returned (a stage that is cut off carries
    no current).  Exact to about 1e-12 of the bracket's size.
    """
    low, high = (np.array(side, float) for side in np.broadcast_arrays(low, high))
    reach = np.maximum(np.abs(low), np.abs(high)) + 1e-300
    # the guess that most stages are nearest to: well below what the supply could drive
    here = low + 0.25 * (high - low)
    width = high - low
    for turn in range(_ROUNDS):
        value, slope = function(here)
        low = np.where(value <= 0.0, here, low)
        high = np.where(value >= 0.0, here, high)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            step = here - value / slope
        inside = (step >= low) & (step <= high)
        if turn % 2:
            slow = (high - low) > 0.5 * width
            width = high - low
            inside &= ~slow | (np.abs(step - here) < 1e-3 * width)
        following = np.where(inside, step, 0.5 * (low + high))
        done = np.abs(following - here) <= 1e-12 * reach
        here = following
        if bool(np.all(done)):
            break
    return here
