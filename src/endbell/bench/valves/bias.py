"""How much a valve draws at rest, by each way to find out, and what that makes of its rating.

Three ways, each with what it really measures:

* the **cathode resistor**: volts over ohms is the *cathode's* current, plate and screen together,
  of all valves on that resistor;
* the **output transformer's resistance**: volts across half the primary over its ohms is the plate
  current alone, but copper read cold is some percent too low for a warm winding;
* a **probe** between valve and socket: reads the cathode's current, screen included.

Each result carries one standard deviation.  Currents in A, voltages in V, resistances in ohm,
temperatures in K.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import hypot, sqrt

from ..transformers.copper import at_temperature, to_twenty
from .koren import Pentode, flow
from .models import Model, model
from .tables import figure, rows
from .tolerance import assumed


@dataclass(frozen=True, slots=True)
class Sure:
    """A value with one standard deviation and how it was found.

    ``common``: the part of it, as a share of the value, that a like value found the same way beside
    it has too (the warmth of one transformer): it falls out of their ratio.
    """

    value: float
    sd: float
    works: str = ""
    common: float = 0.0

    @property
    def relative(self) -> float:
        """The standard deviation as a share of the value."""
        return abs(self.sd / self.value) if self.value else 0.0


class NotPossible(ValueError):
    """A reading from which no current can be worked out; the message says what would do."""


def over(volts: Sure, ohm: Sure) -> Sure:
    """Ohm's law with both uncertainties; :class:`NotPossible` for swapped probes or no resistor."""
    if volts.value < 0.0:
        raise NotPossible(
            f"{volts.value:g} V across the resistor: the probes are swapped; the end nearer the "
            "supply is the positive one"
        )
    if not ohm.value > 0.0:
        raise NotPossible(f"{ohm.value:g} ohm is no resistor to work a current out of")
    amp = volts.value / ohm.value
    share = hypot(volts.sd / volts.value if volts.value else 0.0, ohm.relative)
    return Sure(amp, max(amp * share, volts.sd / ohm.value), "I = V/R")


def cathode_resistor(volts: Sure, ohm: Sure, valves: int = 1) -> Sure:
    """Cathode current of each of ``valves`` like valves on one resistor: plate and screen."""
    all_of_them = over(volts, ohm)
    shared = f", a {ordinal(valves)} of it each" if valves > 1 else ""
    return Sure(
        all_of_them.value / valves,
        all_of_them.sd / valves,
        f"cathode volts over its resistor{shared}",
    )


def warm_copper(ohm: float, read_at: float, warm: float) -> float:
    """Resistance of a copper winding at ``warm`` K that read ``ohm`` at ``read_at`` K (IEC 60028).

    >>> round(warm_copper(100.0, 293.15, 318.15), 2)
    109.82
    """
    return at_temperature(to_twenty(ohm, read_at), warm)


def transformer_resistance(
    drop: Sure, ohm_cold: Sure, read_at: float, warm: float, warm_sd: float
) -> Sure:
    """Plate current from the drop across half the primary, whose ``ohm_cold`` was read at
    ``read_at`` K, the winding now being at ``warm`` ± ``warm_sd`` K."""
    if not ohm_cold.value > 0.0:
        raise NotPossible(f"{ohm_cold.value:g} ohm is no winding to work a current out of")
    ohm = warm_copper(ohm_cold.value, read_at, warm)
    per_kelvin = (warm_copper(ohm_cold.value, read_at, warm + 1.0) - ohm) / ohm
    spread = hypot(ohm_cold.sd * ohm / ohm_cold.value, ohm * per_kelvin * warm_sd)
    found = over(drop, Sure(ohm, spread))
    return Sure(
        found.value,
        found.sd,
        f"drop over the winding's {ohm:.4g} ohm warm (read {ohm_cold.value:.4g} ohm cold; copper "
        "gains 0.39 % a kelvin, IEC 60028)",
        per_kelvin * warm_sd,
    )


@dataclass(frozen=True, slots=True)
class ScreenShare:
    """The screen's part of the cathode current, and one sd of its logarithm."""

    share: float
    sd: float
    works: str


def screen_share(designation: str, plate: float, screen: float, bias: float) -> ScreenShare:
    """The screen's share of the cathode current at rest; 0 for a triode.

    From the data book's row that lies nearest in plate and screen volts, else from the model.
    Voltages against the cathode.
    """
    one = model(designation)
    if not isinstance(one.valve, Pentode):
        return ScreenShare(0.0, 0.0, "a triode has no screen")
    sd = assumed()["screen-share"].value
    near = _nearest(one, plate, screen)
    if near is not None:
        row, amps = near
        share = amps[1] / (amps[0] + amps[1])
        return ScreenShare(share, sd, f"screen {share:.1%} by the data book's row {row}")
    at = flow(one.valve, plate, bias, screen)
    total = float(at.plate + at.screen)
    share = float(at.screen) / total if total > 0.0 else 0.0
    # the equations know least of the screen: twice as unsure as a printed row
    return ScreenShare(share, 2.0 * sd, f"screen {share:.1%} by the model, which is poor at it")


def plate_from_cathode(cathode: Sure, screen: ScreenShare) -> Sure:
    """Plate current: the cathode's less the screen's share."""
    if screen.share == 0.0:
        return cathode
    plate = cathode.value * (1.0 - screen.share)
    sd = hypot(cathode.sd * (1.0 - screen.share), cathode.value * screen.share * screen.sd)
    return Sure(plate, sd, f"{cathode.works}, less the {screen.works}")


def less(cathode: Sure, screen: Sure) -> Sure:
    """Plate current where the screen's was measured by itself."""
    if screen.value > cathode.value:
        raise NotPossible(
            f"the screen's {screen.value * 1e3:.3g} mA is more than the cathode's "
            f"{cathode.value * 1e3:.3g} mA: one of the two resistors is not what is written on it"
        )
    sd = hypot(cathode.sd, screen.sd)
    return Sure(cathode.value - screen.value, sd, f"{cathode.works}, less the screen's measured")


def watts(amp: Sure, electrode: Sure, cathode: Sure) -> Sure:
    """What an electrode turns into heat: its current times its voltage against the *cathode*."""
    volts = electrode.value - cathode.value
    if volts < 0.0:
        raise NotPossible(
            f"{electrode.value:g} V with the cathode at {cathode.value:g} V: no current flows that "
            "way; read both against the chassis, the black probe on it"
        )
    across = hypot(electrode.sd, cathode.sd)
    value = amp.value * volts
    sd = sqrt((amp.sd * volts) ** 2 + (amp.value * across) ** 2)
    return Sure(value, sd, "current times the volts between it and the cathode")


def ordinal(count: int) -> str:
    """'half', 'third', 'quarter' …: the part that one of ``count`` gets."""
    names = {2: "half", 3: "third", 4: "quarter", 6: "sixth"}
    return names.get(count, f"{count}th part")


def _nearest(one: Model, plate: float, screen: float) -> tuple[str, tuple[float, float]] | None:
    def far(row: _Typical) -> float:
        return hypot((row.plate - plate) / row.plate, 2.0 * (row.screen - screen) / row.screen)

    best = min(_typical(one.type), key=far, default=None)
    # farther than that the row says no more than the model does
    if best is None or far(best) > 0.6:
        return None
    return best.id, (best.plate_amp, best.screen_amp)


@dataclass(frozen=True, slots=True)
class _Typical:
    id: str
    plate: float
    screen: float
    plate_amp: float
    screen_amp: float


@cache
def _typical(kind: str) -> tuple[_Typical, ...]:
    """Rows of a type whose voltages and currents at rest are all plain figures."""
    found: list[_Typical] = []
    for row in rows("typical_operation"):
        columns = ("plate_V", "screen_V", "plate_mA_zero", "screen_mA_zero")
        values = [value for c in columns if (value := figure(row, c)) is not None]
        if len(values) == len(columns) and model(row["type"].split("/")[-1]).type == kind:
            found.append(_Typical(row["id"], *values))
    return tuple(found)
