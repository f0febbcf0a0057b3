"""The line of the valve itself: does it conduct at its own voltages as a good one does?"""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot

from ..circuit import Seat
from ..lines import Bound, Line
from ..readings import Bench
from ..telling import shown, tell
from .bias import Sure
from .drawing import Drawn, cathode_now
from .given import coverage, grid_now, read, readings, valve_sd
from .koren import Pentode, flow
from .models import has_model, model
from .tolerance import assumed


def point_line(bench: Bench, seat: Seat, drawn: Drawn | None) -> Line | None:
    """Whether the valve conducts at its own voltages as a good one does: the valve itself, apart
    from the parts round it."""
    if not has_model(seat.type):
        return None
    plate, cathode = read(bench, "plate-volts", seat.at), cathode_now(bench, seat)
    grid = _grid(bench, seat)
    one = model(seat.type)
    screen = read(bench, "screen-volts", seat.at)
    missing = plate is None or grid is None or drawn is None
    if missing or (isinstance(one.valve, Pentode) and screen is None):
        if seat.use != "output":
            return None
        says = f"Read plate, cathode, grid and screen of {seat.at}, and its current."
        return tell(bench, "valve-operating-point", at=seat.at, says=says)
    assert plate and grid and drawn
    to = cathode.value
    screens = screen or Sure(0.0, 0.0)
    at = flow(one.valve, plate.value - to, grid.value - to, screens.value - to)
    amp = float(at.plate)
    if amp < 1e-6:
        says = (
            f"By these voltages {seat.at} would be cut off, but it draws "
            f"{shown(drawn.plate.value, 'A')}: a meter pulls a grid down, so read the grid against "
            "the cathode."
        )
        return tell(bench, "valve-operating-point", at=seat.at, says=says)
    good = valve_sd(seat.type, amp, by_model=True)
    # how much one unit of ln(mu) moves the current, by a small step
    bent = flow(
        replace(one.valve, mu=one.valve.mu * 1.001),
        plate.value - to,
        grid.value - to,
        screens.value - to,
    )
    by_mu = (float(bent.plate) / amp - 1.0) / 1e-3
    sd = hypot(
        good["emission"],
        by_mu * good["mu"],
        drawn.plate.relative,
        float(at.gm) / amp * hypot(grid.sd, cathode.sd),
        float(at.gs) / amp * screens.sd,
        float(at.gp) / amp * plate.sd,
    )
    ratio = drawn.plate.value / amp
    wide = coverage() * sd
    title = "a good valve of the type, as far as valves, readings and the model may stray"
    source = f"{one.source} (set '{one.name}'); spread: {assumed()['emission'].source}"
    bound = Bound(exp(-wide), exp(wide), title, source, "computed")
    blind = sd > assumed()["blind"].value
    meaning = "but its grid cannot be read well enough to tell" if blind else _meaning(ratio, bound)
    says = (
        f"{seat.at} draws {shown(drawn.plate.value, 'A')} where a good {seat.type} draws "
        f"{shown(amp, 'A')} at these voltages: {ratio:.0%}, {meaning}."
    )
    return tell(
        bench,
        "valve-operating-point",
        at=seat.at,
        value=ratio,
        bounds=() if blind else (bound,),
        expected=1.0,
        spread=sd,
        says=says,
        works=f"Koren (1996) with the set '{one.name}', not the drawing",
        readings=readings(bench, (*drawn.rests_on, *((line, seat.at) for line in _READ))),
    )


def _grid(bench: Bench, seat: Seat) -> Sure | None:
    """The grid against the chassis: read, or at the chassis where it is returned there.

    A meter pulls a grid down through the resistor that feeds it: by that share the reading is
    unsure.
    """
    taken = grid_now(bench, seat)
    if taken is not None:
        lifted = taken.value > 0.5
        feeding = seat.grid_ohm or (assumed()["grid-leak"].value if lifted else 0.0)
        pulled = feeding / (feeding + assumed()["meter-input"].value)
        return Sure(taken.value, hypot(taken.sd, abs(taken.value) * pulled))
    at_chassis = seat.bias == "cathode" and seat.use != "inverter" and abs(seat.grid or 0.0) <= 0.5
    return Sure(0.0, 0.05) if at_chassis else None


_READ = ("plate-volts", "screen-volts", "cathode-volts", "grid-volts")


def _meaning(ratio: float, bound: Bound) -> str:
    if bound.low is not None and ratio < bound.low:
        return "too little: a tired valve, or a resistor that has risen"
    if bound.high is not None and ratio > bound.high:
        return "too much: another type, gas, or a resistor that is not what it says"
    return "as it should be"
