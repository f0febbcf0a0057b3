"""What a stage does to a signal: gain, corners, response over a band, pots turned."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log, log10

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..circuit import StageDrawing
from .cards import Netlist
from .mna import driven, impedance, slopes_of, transfer
from .netlist import node_of, parse, turned
from .system import Slopes

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

AUDIO_BAND = (10.0, 100_000.0)
_THREE_DB = 10.0 * log10(2.0)  # half the power
_PER_DECADE = 24  # points at which a corner is looked for; two dips closer than that are not told


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage ready to be asked: its netlist with pots set, its valves' slopes at their bias."""

    netlist: Netlist
    source: str
    out: str
    slopes: Mapping[str, Slopes]

    def transfer(self, hz: ArrayLike) -> Complexes:
        """Complex gain, output over input, shape (frequencies,)."""
        return transfer(self.netlist, self.source, self.out, hz, self.slopes)

    def gain_db(self, hz: float) -> float:
        """Gain in dB at one frequency."""
        return float(decibels(self.transfer([hz]))[0])

    def response_db(self, hz: ArrayLike) -> Floats:
        """Gain in dB at each frequency, shape (frequencies,)."""
        return decibels(self.transfer(hz))

    def phase(self, hz: ArrayLike) -> Floats:
        """Phase in degrees, -180 to 180."""
        return np.degrees(np.angle(self.transfer(hz)))

    def input_ohm(self, hz: ArrayLike) -> Complexes:
        """Impedance that the stage before it drives."""
        return impedance(self.netlist, self.source, hz, self.slopes)

    def output_ohm(self, hz: ArrayLike) -> Complexes:
        """Impedance behind its output, its source without impedance."""
        return impedance(driven(self.netlist, self.source), self.out, hz, self.slopes)


@dataclass(frozen=True, slots=True)
class Corners:
    """Where the response is 3 dB below ``gain_db``, the gain at ``hz``; None: not in the band."""

    hz: float
    gain_db: float
    low: float | None
    high: float | None


def stage(
    netlist: str | Netlist, source: str, out: str, pots: Mapping[str, float] | None = None
) -> Stage:
    """A stage from its netlist, with ``pots`` at rotations (0 to 1, by name).

    Raises what :mod:`.netlist`, :mod:`.direct` and :mod:`.mna` raise.
    """
    read = parse(netlist) if isinstance(netlist, str) else netlist
    read = turned(read, pots or {})
    ends = node_of(read, source), node_of(read, out)
    return Stage(read, *ends, slopes_of(read))


def of_drawing(drawing: StageDrawing, pots: Mapping[str, float] | None = None) -> Stage:
    """A stage as a circuit draws it."""
    return stage(drawing.netlist, drawing.source_node, drawing.out_node, pots)


def decibels(ratio: ArrayLike) -> Floats:
    """20 log10 of a voltage ratio; minus infinity for nothing at all."""
    with np.errstate(divide="ignore"):
        return 20.0 * np.log10(np.abs(np.asarray(ratio)))


def spaced(low: float = AUDIO_BAND[0], high: float = AUDIO_BAND[1], per_decade: int = 20) -> Floats:
    """Frequencies from ``low`` to ``high`` Hz, evenly spaced in log, both ends included."""
    if not 0.0 < low < high:
        raise ValueError(f"a band from {low:g} to {high:g} Hz: from a lower to a higher, above 0")
    count = max(2, round(per_decade * log10(high / low)) + 1)
    return np.geomspace(low, high, count)


def corners(of: Stage, at: float = 1000.0, band: tuple[float, float] = (0.1, 10e6)) -> Corners:
    """The -3 dB corners about ``at`` Hz: the nearest on either side, exact to 1 part in 10^9."""
    gain = of.gain_db(at)
    return Corners(
        at,
        gain,
        _crossing(of, gain - _THREE_DB, at, band[0]),
        _crossing(of, gain - _THREE_DB, at, band[1]),
    )


def _crossing(of: Stage, level: float, start: float, end: float) -> float | None:
    """The frequency nearest to ``start`` towards ``end`` where the gain falls to ``level``."""
    count = max(2, round(_PER_DECADE * abs(log10(end / start))) + 1)
    hz = np.geomspace(start, end, count)
    below = np.flatnonzero(of.response_db(hz) < level)
    if not len(below) or below[0] == 0:
        return None
    inside, outside = float(hz[below[0] - 1]), float(hz[below[0]])
    # each round looks at 16 places at once: the equations are solved as a stack
    while abs(log(outside / inside)) > 1e-9:
        hz = np.geomspace(inside, outside, 17)
        first = int(np.flatnonzero((of.response_db(hz) < level) | (hz == hz[-1]))[0])
        first = max(first, 1)
        inside, outside = float(hz[first - 1]), float(hz[first])
    return 0.5 * (inside + outside)
