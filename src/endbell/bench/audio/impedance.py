"""Output impedance and damping factor from the voltages at two loads.

The amp is taken as a source with a resistance: U1 = E R1/(R1 + Ro), U2 = E R2/(R2 + Ro), so that
Ro = R1 R2 (U2 - U1) / (U1 R2 - U2 R1).  Well below clipping, the drive untouched in between, and
for a valve amp with two real loads: it is never run without one.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite, sqrt

from .errors import RecordingError

_CALLED_FOR = (
    "Take two loads that differ by a third or more, the drive untouched, far below clipping"
)


@dataclass(frozen=True, slots=True)
class Output:
    """``ohm``: of the source; ``spread``: its standard deviation, from that of the voltages."""

    ohm: float
    spread: float = 0.0

    def damping(self, load: float) -> float:
        """Damping factor at a load (ohm): load over source; infinite at an ideal source."""
        return load / self.ohm if self.ohm > 0.0 else inf


def output_impedance(
    first: tuple[float, float], second: tuple[float, float], spread: float = 0.0
) -> Output:
    """From (ohm, V rms) at two loads; one may be ``inf`` for an amp that bears being unloaded.

    ``spread``: one standard deviation of either voltage, as a fraction of it.  Raises
    RecordingError where the loads are alike or the voltages fit no source.
    """
    (r1, u1), (r2, u2) = sorted((first, second))
    if not (r1 > 0.0 and u1 > 0.0 and u2 > 0.0) or not isfinite(u1 + u2) or not isfinite(r1):
        raise RecordingError("a load or voltage that is not above zero", _CALLED_FOR)
    if r2 < 1.1 * r1:
        raise RecordingError(f"two loads of {r1:g} and {r2:g} ohm are too much alike", _CALLED_FOR)
    ratio = 0.0 if r2 == inf else r1 / r2
    below = u1 - u2 * ratio
    if below <= 0.0:
        raise RecordingError(
            f"{u1:g} V at {r1:g} ohm and {u2:g} V at {r2:g} ohm fit no amp: were they swapped?",
            _CALLED_FOR,
        )
    ohm = r1 * (u2 - u1) / below
    # derivatives by the relative changes of u1 and u2 are equal and opposite
    slope = r1 * u1 * u2 * (1.0 - ratio) / below**2
    return Output(ohm, sqrt(2.0) * slope * spread)
