"""What a stage should read, by its drawing or by its valve and parts, and how far it may stray."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import hypot

from ..circuit import Seat
from ..lines import Bound
from ..readings import Bench
from ..telling import shown
from .bias import Sure
from .given import (
    coverage,
    drawn_bound,
    grid_now,
    load_of,
    rail_now,
    read,
    resistor_sd,
    scale_of,
    valve_sd,
)
from .koren import Pentode
from .models import has_model, model
from .operating_point import Wiring, settle
from .tolerance import Spreads, assumed, linear

_SMALL_DROP = 0.15


@dataclass(frozen=True, slots=True)
class Expected:
    """What an electrode should read: nominal, one standard deviation from amp to amp, the bound
    about it (None where there is nothing to go by) and how it was come by."""

    value: float
    sd: float
    bound: Bound
    works: str


@dataclass(frozen=True, slots=True)
class Parts:
    """A seat's wiring with one standard deviation of each of its parts."""

    wiring: Wiring
    sd: dict[str, float]


def parts_of(bench: Bench, seat: Seat) -> Parts | None:
    """The wiring of a seat as drawn and read; None where too little is known of it.

    An inverter's tail, a valve tied to another's plate and a stage without its values on the
    drawing are not guessed at.
    """
    rail, load = rail_now(bench, seat.rail), load_of(bench, seat)
    if not has_model(seat.type) or rail is None or load is None or seat.use == "inverter":
        return None
    wiring = Wiring(rail.value, load.value)
    sd = {"supply": rail.sd, "load_ohm": load.sd}
    if seat.bias == "fixed":
        grid = grid_now(bench, seat)
        if grid is None and seat.grid is not None:
            scale, _why = scale_of(bench, seat)
            grid = Sure(seat.grid * scale, 0.05 * abs(seat.grid))
        if grid is None or grid.value > 0.0:
            return None
        wiring = replace(wiring, grid=grid.value, cathode_ohm=seat.cathode_ohm or 0.0)
        sd["grid"] = grid.sd
    else:
        if not seat.cathode_ohm or abs(seat.grid or 0.0) > 0.5:
            return None
        sharing = float(seat.cathode_sharing)
        wiring = replace(wiring, cathode_ohm=seat.cathode_ohm, sharing=sharing)
        sd["cathode_ohm"] = resistor_sd(seat.cathode_ohm)
    if isinstance(model(seat.type).valve, Pentode):
        screen = read(bench, "screen-volts", seat.at)
        if screen is None and seat.screen is not None:
            scale, _why = scale_of(bench, seat)
            screen = Sure(seat.screen * scale, 0.03 * seat.screen)
        if screen is None:
            return None
        wiring = replace(wiring, screen_supply=screen.value)
        sd["screen_supply"] = screen.sd
    return Parts(wiring, sd)


def spreads_of(bench: Bench, seat: Seat, by_model: bool) -> Spreads | None:
    """The seat's operating point by its model and how far good amps stray from it."""
    parts = parts_of(bench, seat)
    if parts is None:
        return None
    return _spreads(seat.type, parts.wiring, tuple(parts.sd.items()), by_model)


@lru_cache(maxsize=256)
def _spreads(
    designation: str, wiring: Wiring, sd: tuple[tuple[str, float], ...], by_model: bool
) -> Spreads:
    """Kept, because a sheet is worked out several times over and a pair has the same parts."""
    valve = model(designation).valve
    amp = float(settle(valve, wiring).plate_amp) if by_model else 0.0
    return linear(valve, wiring, dict(sd), valve_sd(designation, amp, by_model))


def expected(
    bench: Bench, seat: Seat, electrode: str, spreads: Spreads | None, reading_sd: float
) -> Expected | None:
    """What ``electrode`` ('plate', 'cathode', 'screen', 'grid') should read against chassis.

    The drawing's figure, brought to today's rail, where it has one, else the model's; about it
    what the parts' tolerances and the valve's spread imply, where the wiring is known, else the
    tolerance that drawings state.  ``spreads``: of :func:`spreads_of`.
    """
    drawn: float | None = getattr(seat, electrode)
    known = spreads if electrode in ("plate", "cathode") else None
    wide = coverage()
    if drawn is not None:
        scale, why = scale_of(bench, seat)
        centre = drawn * scale
        if known is None:
            return _by_drawing(bench, seat, electrode, centre, reading_sd, why)
        nominal = float(getattr(known.nominal, electrode))
        sd = known.sd[electrode] * (centre / nominal if nominal > 0.0 else 1.0)
        half = wide * (sd**2 + reading_sd**2) ** 0.5
        title = f"the drawing's {shown(drawn, 'V')}, as far as parts and valve may stray"
        works = f"the drawing's figure, {why}; spread {_told(known, electrode)}"
        return Expected(centre, sd, drawn_bound(bench, centre, half, title), works)
    if known is None:
        return None
    nominal, sd = float(getattr(known.nominal, electrode)), known.sd[electrode]
    half = wide * (sd**2 + reading_sd**2) ** 0.5
    one = model(seat.type)
    title = (
        f"a good {one.type} here gives {shown(nominal, 'V')}, as far as parts and valve may stray"
    )
    source = f"{one.source}; spread: {assumed()['emission'].source}"
    bound = Bound(nominal - half, nominal + half, title, source, "computed")
    return Expected(nominal, sd, bound, f"model '{one.name}'; spread {_told(known, electrode)}")


def _by_drawing(
    bench: Bench, seat: Seat, electrode: str, centre: float, reading_sd: float, why: str
) -> Expected:
    """About a drawn figure where the wiring is not known well enough to solve.

    What lies between an electrode and its rail is a drop that strays as current and resistor do;
    where there is no rail to count from, the tolerance that drawings state.
    """
    drop = _drop(bench, seat, electrode)
    drawn: float = getattr(seat, electrode)
    if drop is None:
        share = assumed()["drawing"].value
        half = share * abs(centre) + coverage() * reading_sd
        title = f"the drawing's {shown(drawn, 'V')} ± {share:.0%}"
        bound = drawn_bound(bench, centre, half, title)
        return Expected(centre, half / coverage(), bound, f"the drawing's figure, {why}")
    rail = rail_now(bench, seat.rail)
    of_rail = 0.0 if rail is None or not rail.value else abs(rail.sd / rail.value * centre)
    # behind a large resistor a screen holds itself; behind a small one its current decides
    small = drop < _SMALL_DROP * abs(centre)
    strays = "screen-drop" if electrode == "screen" and small else "stage-drop"
    sd = hypot(of_rail, drop * assumed()[strays].value)
    half = coverage() * hypot(sd, reading_sd)
    title = f"the drawing's {shown(drawn, 'V')}, as far as its drop from the rail may stray"
    works = f"the drawing's figure, {why}; of the drop one sd is {assumed()[strays].value:.0%}"
    return Expected(centre, sd, drawn_bound(bench, centre, half, title), works)


def _drop(bench: Bench, seat: Seat, electrode: str) -> float | None:
    """The drawn drop between an electrode and the rail it counts from."""
    rail = bench.circuit.rail(seat.rail)
    drawn: float | None = getattr(seat, electrode)
    if rail is None or drawn is None or electrode not in ("plate", "screen"):
        return None
    return abs(rail.volts - drawn)


def _told(spreads: Spreads, electrode: str) -> str:
    """The part that contributes most, in words."""
    shares = spreads.shares[electrode]
    if not shares:
        return "none"
    most = max(shares, key=lambda name: shares[name])
    return f"{shown(spreads.sd[electrode], 'V')} (sd), most of it from {_WORDS[most]}"


_WORDS = {
    "supply": "the rail",
    "load_ohm": "the plate load",
    "cathode_ohm": "the cathode resistor",
    "tail_ohm": "the tail",
    "grid": "the bias voltage",
    "screen_supply": "the screen voltage",
    "screen_ohm": "the screen resistor",
    "emission": "the valve",
    "mu": "the valve",
}
