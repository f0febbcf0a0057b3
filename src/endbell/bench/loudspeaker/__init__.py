"""Loudspeakers: impedance curve, Thiele–Small parameters, polarity.

Computation in :mod:`.curve`, :mod:`.thiele_small`, :mod:`.fit`, :mod:`.polarity`; what it means on
a bench sheet in :mod:`.on_sheet`.
"""

from __future__ import annotations

from .curve import ImpedanceCurve, from_points, from_recording
from .fit import fitted
from .on_sheet import lines
from .polarity import polarity
from .thiele_small import Moving, Parameters, by_added_mass, classical

__all__ = [
    "ImpedanceCurve",
    "Moving",
    "Parameters",
    "by_added_mass",
    "classical",
    "fitted",
    "from_points",
    "from_recording",
    "lines",
    "polarity",
]
