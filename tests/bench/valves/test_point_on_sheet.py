"""The valve judged by itself: a good one passes whichever published set it follows."""

from __future__ import annotations

from dataclasses import replace

import pytest

from endbell.bench.circuit import Circuit
from endbell.bench.lines import Judgement
from endbell.bench.valves.misfit import sets_of
from endbell.bench.valves.models import Model
from endbell.bench.valves.operating_point import Wiring, settle

from .amps import FIXED, HALF, fixed_readings, told

# Idle points as amps have them: type, plate, screen, grid
POINTS = [
    ("6L6GC", 430.0, 400.0, -38.0),
    ("6V6GT", 340.0, 330.0, -20.0),
    ("EL34", 400.0, 390.0, -30.0),
    ("6550", 450.0, 320.0, -32.0),
    ("KT88", 450.0, 320.0, -32.0),
]


def amp_of(kind: str) -> Circuit:
    seats = tuple(
        replace(seat, type=kind, plate=None, screen=None, grid=None)
        if seat.use == "output"
        else seat
        for seat in FIXED.seats
    )
    return replace(FIXED, seats=seats)


def sheet_of(one: Model, plate: float, screen: float, grid: float) -> dict[tuple[str, str], float]:
    at = settle(one.valve, Wiring(plate, HALF, grid=grid, screen_supply=screen))
    values = fixed_readings()
    for place in ("V3", "V4"):
        values[("grid-volts", place)] = grid
        values[("plate-volts", place)] = float(at.plate)
        values[("screen-volts", place)] = screen
        values[("plate-drop", place)] = float(at.plate_amp) * HALF * 1.0786
    values[("rail-volts", "A")] = plate
    return values


@pytest.mark.parametrize(("kind", "plate", "screen", "grid"), POINTS)
def test_a_good_valve_is_not_called_off_because_another_fit_says_so(
    kind: str, plate: float, screen: float, grid: float
) -> None:
    for one in sets_of(kind):
        found = told(amp_of(kind), sheet_of(one, plate, screen, grid))
        line = found[("valve-operating-point", "V3")]
        assert line.judgement is Judgement.WITHIN, (one.name, line.value, line.spread)


@pytest.mark.parametrize(("kind", "plate", "screen", "grid"), POINTS)
@pytest.mark.parametrize("emission", [0.4, 0.5])
def test_a_valve_with_half_its_emission_left_is_called_tired(
    kind: str, plate: float, screen: float, grid: float, emission: float
) -> None:
    one = sets_of(kind)[0]
    weak = replace(one, valve=replace(one.valve, kg1=one.valve.kg1 / emission))
    line = told(amp_of(kind), sheet_of(weak, plate, screen, grid))[("valve-operating-point", "V3")]
    assert line.judgement is Judgement.LOW, (line.value, line.spread)


def test_another_type_in_the_socket_is_seen() -> None:
    # a KT88 where a 6V6GT is drawn draws several times as much at the same voltages
    other = sets_of("KT88")[0]
    found = told(amp_of("6V6GT"), sheet_of(other, 340.0, 330.0, -20.0))
    assert found[("valve-operating-point", "V3")].judgement is Judgement.HIGH
