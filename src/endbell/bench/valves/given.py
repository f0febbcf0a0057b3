"""What a sheet gives for the valves: readings with their spread, the mains, what was drawn."""

from __future__ import annotations

from collections.abc import Iterable
from math import hypot

from ..circuit import Rail, Seat
from ..lines import Bound
from ..readings import Bench, Reading
from ..safety.standing import mains_of, tap_of
from ..telling import shown, usable
from .bias import Sure
from .misfit import misfit
from .models import has_model
from .tolerance import assumed

Kept = dict[str, float]

# A grid this far from where it is drawn, on the other side of the chassis, is a swapped probe
CLEARLY = 5.0


def read(bench: Bench, line: str, at: str) -> Sure | None:
    """A usable reading with one standard deviation: its own, else the meter's."""
    value = usable(bench, line, at)
    if value is None:
        return None
    taken = bench.reading(line, at)
    own = taken.spread if taken is not None else 0.0
    meter = assumed()["meter"].value * abs(value)
    if bench.kinds[line].unit == "ohm":
        meter = hypot(meter, assumed()["meter-ohm"].value)
    return Sure(value, own or meter, "as read")


def mains_share(bench: Bench) -> float | None:
    """Today's mains over the tap in use; None where the mains was not read."""
    if usable(bench, "mains-volts") is None:
        return None
    mains = mains_of(bench)
    tap = tap_of(bench, mains)
    return None if tap is None else mains.volts / tap.volts


def mains_told(bench: Bench) -> str:
    """The same in words, for the end of a sentence."""
    share = mains_share(bench)
    if share is None:
        return "the mains was not read: it is taken to be what the tap is meant for"
    return f"the mains is at {share:.1%} of the tap"


def rail_now(bench: Bench, rail: str) -> Sure | None:
    """A rail as read, else as drawn and brought to today's mains; None where neither."""
    taken = read(bench, "rail-volts", rail)
    drawn = bench.circuit.rail(rail)
    # one read with the probes swapped is told at its own line and used nowhere
    if taken is not None and (drawn is None or taken.value * drawn.volts >= 0.0):
        return taken
    if drawn is None:
        return None
    value = drawn.volts * (mains_share(bench) or 1.0)
    return Sure(value, abs(value) * drawn.tolerance / 3.0**0.5, "as drawn")


def scale_of(bench: Bench, seat: Seat) -> tuple[float, str]:
    """By how much a drawn voltage of ``seat`` is to be taken larger today, and why."""
    drawn = bench.circuit.rail(seat.rail)
    taken = usable(bench, "rail-volts", seat.rail)
    if drawn is not None and taken is not None and taken * drawn.volts > 0.0:
        return taken / drawn.volts, f"brought to today's {shown(taken, 'V')} of its rail"
    share = mains_share(bench)
    if share is not None:
        return share, "brought to today's mains"
    return 1.0, "neither its rail nor the mains was read"


def grid_now(bench: Bench, seat: Seat) -> Sure | None:
    """A seat's grid as read; None where it was not, or reads positive on a valve whose bias is
    negative: that is told at its own line and used nowhere."""
    taken = read(bench, "grid-volts", seat.at)
    if taken is not None and taken.value > CLEARLY and (seat.grid or 0.0) < -CLEARLY:
        return None
    return taken


def load_of(bench: Bench, seat: Seat) -> Sure | None:
    """DC resistance of a seat's plate load: its resistor, or half the primary as read or drawn."""
    taken = read(bench, "half-primary", seat.at)
    if taken is not None:
        return taken
    if seat.plate_ohm is not None:
        return Sure(seat.plate_ohm, resistor_sd(seat.plate_ohm), "as drawn")
    part = {"output": "ot", "reverb drive": "rt"}.get(seat.use)
    for winding in bench.circuit.windings:
        if winding.part == part and winding.use == "primary" and winding.dc_ohm is not None:
            half = winding.dc_ohm / (2.0 if seat.pair else 1.0)
            return Sure(half, half * winding.dc_tolerance, "as drawn")
    return None


def resistor_sd(ohm: float) -> float:
    """One standard deviation of a resistor by the tolerance that is assumed for it."""
    return ohm * assumed()["resistor"].value / 3.0**0.5


def valve_sd(designation: str, amp: float, by_model: bool) -> Kept:
    """How good valves of a type differ; ``by_model``: and how far its model is from the books."""
    spread = assumed()["emission"].value
    if by_model and has_model(designation):
        spread = hypot(spread, misfit(designation, amp=amp))
    return {"emission": spread, "mu": assumed()["mu"].value}


def coverage() -> float:
    """Standard deviations within which nothing is called off."""
    return assumed()["coverage"].value


def drawn_bound(bench: Bench, centre: float, half_width: float, title: str) -> Bound:
    """A bound about what the circuit's drawing says."""
    circuit = bench.circuit
    low, high = centre - half_width, centre + half_width
    return Bound(low, high, title, circuit.source, circuit.confidence)


def at_work(bench: Bench) -> tuple[Seat, ...]:
    """Seats that amplify, output valves first: they are what is dangerous and dear."""
    seats = [seat for seat in bench.circuit.seats if seat.use != "rectifier"]
    return tuple(sorted(seats, key=lambda seat: seat.use != "output"))


def pair_of(bench: Bench, seat: Seat) -> Seat | None:
    """The seat it works in push-pull with."""
    return bench.circuit.seat(seat.pair) if seat.pair else None


def arrangement(seat: Seat) -> str:
    """'push-pull' or 'single-ended'."""
    return "push-pull" if seat.pair else "single-ended"


def readings(bench: Bench, wanted: Iterable[tuple[str, str]]) -> tuple[Reading | None, ...]:
    """The readings behind a line, in order, None for those not taken."""
    return tuple(bench.reading(line, at) for line, at in wanted)


def first_rails(bench: Bench) -> tuple[Rail, ...]:
    """Rails that no other feeds and that are positive: the rectifier's own."""
    return tuple(r for r in bench.circuit.rails if not r.fed_from and r.volts > 0.0)
