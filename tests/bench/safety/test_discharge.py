"""Capacitors discharge by the law of RC, and never without a way out."""

from __future__ import annotations

from math import inf, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from endbell.bench.safety.discharge import (
    discharge_time,
    in_parallel,
    resistors_in_parallel,
    stored_charge,
    stored_energy,
    volts_after,
)
from endbell.bench.safety.rails import Rails, groups, rails, time_below, unloaded, volts_at

FARAD = st.floats(1e-9, 1e-3)
OHM = st.floats(10.0, 1e7)
VOLTS = st.floats(61.0, 1500.0)


@given(FARAD, OHM, VOLTS, st.floats(1.0, 60.0))
def test_a_larger_capacitor_or_bleeder_takes_longer(
    farad: float, ohm: float, start: float, target: float
) -> None:
    seconds = discharge_time(farad, ohm, start, target)
    assert discharge_time(2 * farad, ohm, start, target) == pytest.approx(2 * seconds)
    assert discharge_time(farad, 2 * ohm, start, target) == pytest.approx(2 * seconds)
    assert discharge_time(farad, ohm, start * 1.1, target) > seconds
    assert discharge_time(farad, ohm, start, target * 0.9) > seconds


@given(FARAD, OHM, VOLTS, st.floats(1.0, 60.0))
def test_time_and_voltage_undo_each_other(
    farad: float, ohm: float, start: float, target: float
) -> None:
    seconds = discharge_time(farad, ohm, start, target)
    assert volts_after(farad, ohm, start, seconds) == pytest.approx(target, rel=1e-9)


@given(FARAD, OHM, VOLTS, st.lists(st.floats(0.0, 1e5), min_size=2, max_size=6))
def test_the_voltage_only_falls(farad: float, ohm: float, start: float, at: list[float]) -> None:
    left = [volts_after(farad, ohm, start, seconds) for seconds in sorted(at)]
    assert left == sorted(left, reverse=True)
    assert all(0 <= volts <= start for volts in left)


def test_without_a_bleeder_it_never_discharges() -> None:
    assert discharge_time(47e-6, None, 400.0, 60.0) == inf
    assert discharge_time(47e-6, inf, 400.0, 60.0) == inf
    assert volts_after(47e-6, None, 400.0, 1e9) == 400.0
    assert discharge_time(47e-6, None, 50.0, 60.0) == 0.0  # below it already


def test_polarity_does_not_matter() -> None:
    assert discharge_time(1e-6, 1e5, -400.0, 60.0) == discharge_time(1e-6, 1e5, 400.0, 60.0)


@pytest.mark.parametrize(
    ("farad", "ohm", "start"),
    [(-1e-6, 1e5, 400.0), (1e-6, -1e5, 400.0), (nan, 1e5, 400.0), (1e-6, nan, 400.0), (1e-6, 1e5, nan), (1e-6, 1e5, inf)],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_a_sentence(farad: float, ohm: float, start: float) -> None:
    with pytest.raises(ValueError, match=r"needed"):
        discharge_time(farad, ohm, start, 60.0)


def test_energy_charge_and_parts_side_by_side() -> None:
    assert stored_energy(20e-6, -450.0) == pytest.approx(2.025)
    assert stored_charge(20e-6, -450.0) == pytest.approx(9e-3)
    assert in_parallel([20e-6, 20e-6, 8e-6]) == pytest.approx(48e-6)
    assert in_parallel([]) == 0.0
    assert resistors_in_parallel([220e3, 220e3]) == pytest.approx(110e3)
    assert resistors_in_parallel([]) is None
    assert resistors_in_parallel([220e3, 0.0]) == 0.0


# ---- a supply of several rails


def two(bleeder: float = 220e3, between: float = 10e3) -> Rails:
    return rails({"A": 20e-6, "C": 20e-6}, [("A", "C", between)], [("A", bleeder)])


def test_two_rails_through_a_dropper_agree_with_the_differential_equation() -> None:
    supply = two()
    start = np.array([480.0, 470.0])
    rates = -supply.siemens / supply.farad[:, None]
    solved = solve_ivp(
        lambda _, v: rates @ v, (0, 30.0), start, rtol=1e-9, atol=1e-9, t_eval=[1.0, 10.0, 30.0]
    )
    for n, seconds in enumerate((1.0, 10.0, 30.0)):
        assert volts_at(supply, start, seconds) == pytest.approx(solved.y[:, n], rel=1e-6)
    below = time_below(supply, start, 60.0)
    assert float(np.max(volts_at(supply, start, below))) == pytest.approx(60.0, rel=1e-6)


def test_a_choke_makes_two_capacitors_one() -> None:
    joined = rails({"A": 20e-6, "B": 20e-6}, [("A", "B", 0.0)], [("B", 220e3)])
    assert joined.farad == pytest.approx([40e-6])
    assert joined.node == {"A": 0, "B": 0} and joined.names(0) == ("A", "B")
    assert time_below(joined, np.array([400.0]), 60.0) == pytest.approx(
        discharge_time(40e-6, 220e3, 400.0, 60.0)
    )


def test_a_rail_without_a_capacitor_passes_the_current_on() -> None:
    chain = rails({"A": 10e-6, "tap": 0.0}, [("A", "tap", 100e3)], [("tap", 120e3)])
    assert time_below(chain, np.array([400.0, 0.0]), 60.0) == pytest.approx(
        discharge_time(10e-6, 220e3, 400.0, 60.0), rel=1e-6
    )


def test_rails_without_a_bleeder_share_their_charge_and_keep_it() -> None:
    kept = rails({"A": 20e-6, "C": 20e-6}, [("A", "C", 10e3)], [])
    assert time_below(kept, np.array([400.0, 0.0]), 60.0) == inf
    assert volts_at(kept, np.array([400.0, 0.0]), 1e6) == pytest.approx([200.0, 200.0], rel=1e-6)
    assert time_below(kept, np.array([100.0, 0.0]), 60.0) < inf  # 50 V when shared out


def test_a_bleeder_does_not_empty_the_supply_beside_it() -> None:
    apart = rails({"A": 20e-6, "bias": 50e-6}, [], [("A", 220e3)])
    assert groups(apart) == ((0,), (1,))
    assert time_below(apart, np.array([400.0, 70.0]), 60.0) == inf


def test_unloaded_every_rail_rises_to_the_first_but_for_bleeders() -> None:
    assert unloaded(two(), {"A": 480.0}) == pytest.approx([480.0, 480.0])
    divided = rails({"A": 1e-6, "C": 1e-6}, [("A", "C", 100e3)], [("C", 100e3)])
    assert unloaded(divided, {"A": 480.0}) == pytest.approx([480.0, 240.0])
    assert unloaded(rails({"A": 1e-6, "x": 1e-6}, [], []), {"A": 480.0}) == pytest.approx([480, 0])


def test_a_part_at_a_rail_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match=r"no rail 'Z'"):
        rails({"A": 1e-6}, [], [("Z", 1e5)])
    with pytest.raises(ValueError, match=r"resistance of -1"):
        rails({"A": 1e-6}, [], [("A", -1.0)])


@settings(max_examples=40)
@given(
    st.lists(st.floats(1e-6, 1e-4), min_size=1, max_size=4),
    st.lists(st.floats(1e3, 1e6), min_size=3, max_size=3),
    st.floats(1e4, 1e6),
    st.floats(100.0, 600.0),
)
def test_every_bled_supply_gets_below_and_later_for_a_weaker_bleeder(
    farads: list[float], droppers: list[float], bleeder: float, volts: float
) -> None:
    names = [f"r{n}" for n in range(len(farads))]
    between = [(a, b, ohm) for a, b, ohm in zip(names, names[1:], droppers, strict=False)]
    farad = dict(zip(names, farads, strict=True))
    start = np.full(len(names), volts)
    seconds = time_below(rails(farad, between, [("r0", bleeder)]), start, 60.0)
    later = time_below(rails(farad, between, [("r0", 2 * bleeder)]), start, 60.0)
    assert 0 < seconds < later < inf
    assert seconds >= discharge_time(sum(farads), bleeder, volts, 60.0) * (1 - 1e-6)
