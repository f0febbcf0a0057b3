"""Bias by each of the trade's ways, and what each of them really measures."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.bench.valves.balance import balance
from endbell.bench.valves.bias import (
    NotPossible,
    ScreenShare,
    Sure,
    cathode_resistor,
    less,
    over,
    plate_from_cathode,
    screen_share,
    transformer_resistance,
    warm_copper,
    watts,
)
from endbell.bench.valves.models import model
from endbell.bench.valves.operating_point import Wiring, settle

from .amps import steady


def test_a_cathode_resistor_reads_plate_and_screen_together() -> None:
    at = settle(model("EL84").valve, Wiring(310.0, 100.0, 135.0, screen_supply=305.0))
    found = cathode_resistor(Sure(float(at.cathode), 0.0), Sure(135.0, 0.0))
    assert found.value == pytest.approx(float(at.plate_amp + at.screen_amp))
    assert found.value > float(at.plate_amp)


def test_two_valves_on_one_resistor_have_half_of_it_each() -> None:
    one = cathode_resistor(Sure(10.0, 0.1), Sure(130.0, 6.5), 2)
    assert one.value == pytest.approx(10.0 / 130.0 / 2.0)
    assert "half" in one.works


def test_the_screens_share_comes_from_the_data_book_where_a_row_is_near() -> None:
    share = screen_share("6V6GT", 250.0, 250.0, -12.5)
    assert share.share == pytest.approx(4.5 / 49.5)
    assert "6v6_se_250" in share.works
    assert screen_share("6V6GT", 40.0, 30.0, -1.0).works.endswith("poor at it")
    assert screen_share("12AX7", 250.0, 0.0, -2.0).share == 0.0


def test_the_plates_part_is_the_cathodes_less_the_screens() -> None:
    cathode = Sure(0.0495, 0.0005, "cathode volts over its resistor")
    plate = plate_from_cathode(cathode, ScreenShare(4.5 / 49.5, 0.25, "screen"))
    assert plate.value == pytest.approx(0.045)
    assert plate.sd > cathode.sd * 0.9
    measured = less(cathode, Sure(0.0045, 0.0001))
    assert measured.value == pytest.approx(0.045)
    assert measured.sd < plate.sd


def test_a_winding_read_cold_makes_the_current_look_larger_than_it_is() -> None:
    cold = over(Sure(5.0, 0.0), Sure(100.0, 0.0))
    warm = transformer_resistance(Sure(5.0, 0.0), Sure(100.0, 0.0), 293.15, 318.15, 0.0)
    assert warm.value < cold.value
    assert cold.value / warm.value == pytest.approx(1.098, abs=1e-3)
    assert "0.39 %" in warm.works


def test_not_knowing_how_warm_the_winding_is_shows_in_the_spread() -> None:
    sure = transformer_resistance(Sure(5.0, 0.0), Sure(100.0, 0.0), 293.15, 318.15, 0.0)
    unsure = transformer_resistance(Sure(5.0, 0.0), Sure(100.0, 0.0), 293.15, 318.15, 15.0)
    assert sure.sd == 0.0
    assert unsure.relative == pytest.approx(15.0 * 0.00393 / 1.098, rel=0.02)


@steady()
@given(st.floats(10.0, 500.0), st.floats(273.0, 350.0), st.floats(273.0, 390.0))
def test_warming_and_cooling_a_winding_brings_it_back(ohm: float, one: float, two: float) -> None:
    assert warm_copper(warm_copper(ohm, one, two), two, one) == pytest.approx(ohm)


def test_dissipation_counts_from_the_cathode_not_from_the_chassis() -> None:
    found = watts(Sure(0.040, 0.0), Sure(320.0, 0.0), Sure(12.0, 0.0))
    assert found.value == pytest.approx(0.040 * 308.0)


def test_swapped_probes_are_named() -> None:
    with pytest.raises(NotPossible, match="swapped"):
        over(Sure(-5.0, 0.0), Sure(100.0, 0.0))
    with pytest.raises(NotPossible, match="probe"):
        watts(Sure(0.04, 0.0), Sure(-320.0, 0.0), Sure(12.0, 0.0))
    with pytest.raises(NotPossible, match="no resistor"):
        over(Sure(5.0, 0.0), Sure(0.0, 0.0))
    with pytest.raises(NotPossible, match="more than the cathode"):
        less(Sure(0.01, 0.0), Sure(0.02, 0.0))


def test_an_even_pair_leaves_nothing_over() -> None:
    even = balance(Sure(0.035, 0.0005), Sure(0.035, 0.0005))
    assert even.share.value == 0.0
    assert even.more == ""


def test_which_valve_draws_more_is_said_only_when_the_readings_can_tell() -> None:
    assert balance(Sure(0.036, 1e-3), Sure(0.035, 1e-3), ("V3", "V4")).more == ""
    assert balance(Sure(0.036, 1e-4), Sure(0.035, 1e-4), ("V3", "V4")).more == "V3"
    assert balance(Sure(0.030, 1e-4), Sure(0.035, 1e-4), ("V3", "V4")).more == "V4"


@steady()
@given(st.floats(0.005, 0.1), st.floats(0.005, 0.1))
def test_swapping_the_valves_turns_the_sign_of_the_balance(one: float, two: float) -> None:
    there, back = (balance(Sure(a, 0.0), Sure(b, 0.0)) for a, b in ((one, two), (two, one)))
    assert there.share.value == pytest.approx(-back.share.value)
