"""The two halves of a phase inverter: how alike they are in size, how opposite in phase."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .cards import Netlist
from .mna import driven, slopes_of, solve
from .netlist import node_of, parse, turned
from .response import decibels

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Halves:
    """Balance of the outputs at each frequency.

    ``first_db``, ``second_db``: gain to each; ``apart_db``: first less second, 0 where alike;
    ``phase``: degrees by which they miss being opposite; ``left_over``: the sum of both outputs
    over half their difference, the share of the signal that push-pull does not cancel.
    """

    hz: Floats
    first_db: Floats
    second_db: Floats
    apart_db: Floats
    phase: Floats
    left_over: Floats


def balance(
    netlist: str | Netlist,
    source: str,
    first: str,
    second: str,
    hz: ArrayLike,
    pots: Mapping[str, float] | None = None,
) -> Halves:
    """How alike the outputs ``first`` and ``second`` of an inverter are.

    Raises what :mod:`.netlist`, :mod:`.direct` and :mod:`.mna` raise.
    """
    read = turned(parse(netlist) if isinstance(netlist, str) else netlist, pots or {})
    found = solve(driven(read, source), hz, slopes_of(read))
    reference = found.volts(node_of(read, source))
    one = found.volts(node_of(read, first)) / reference
    other = found.volts(node_of(read, second)) / reference
    one_db, other_db = decibels(one), decibels(other)
    return Halves(
        found.hz,
        one_db,
        other_db,
        one_db - other_db,
        np.degrees(np.angle(-one / other)),
        np.abs(one + other) / (0.5 * np.abs(one - other)),
    )
