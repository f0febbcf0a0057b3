"""The equations as a valve behaves: more volts more current, never backwards, never not a number."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.bench.valves.koren import Pentode, Triode, Valve, flow, plate_current, screen_current
from endbell.bench.valves.models import models

from .amps import steady

SETS = [(one.type, one.name, one.valve) for one in models()]
TRIODE = next(v for t, n, v in SETS if (t, n) == ("12AX7", "koren-1996"))
PENTODE = next(v for t, n, v in SETS if (t, n) == ("EL34", "koren-1996"))

volts = st.floats(-1000.0, 1000.0)
anything = st.floats(allow_nan=False)


@steady()
@given(st.sampled_from(SETS), anything, anything, anything)
def test_no_voltage_gives_a_current_that_is_no_number_or_flows_backwards(
    one: tuple[str, str, Valve], plate: float, grid: float, screen: float
) -> None:
    at = flow(one[2], plate, grid, screen)
    for value in (at.plate, at.screen, at.gm, at.gp, at.gs, at.screen_gm, at.screen_gs, at.mu):
        assert np.isfinite(value)
        assert value >= 0.0


@steady()
@given(st.sampled_from(SETS), volts, volts, volts, st.floats(0.0, 300.0))
def test_more_plate_volts_never_give_less_current(
    one: tuple[str, str, Valve], plate: float, grid: float, screen: float, more: float
) -> None:
    low = plate_current(one[2], plate, grid, screen)
    assert plate_current(one[2], plate + more, grid, screen) >= low * (1.0 - 1e-12)


@steady()
@given(st.sampled_from(SETS), volts, volts, volts, st.floats(0.0, 300.0))
def test_a_less_negative_grid_never_gives_less_current(
    one: tuple[str, str, Valve], plate: float, grid: float, screen: float, more: float
) -> None:
    low = flow(one[2], plate, grid, screen)
    high = flow(one[2], plate, grid + more, screen)
    assert high.plate >= low.plate * (1.0 - 1e-12)
    assert high.screen >= low.screen * (1.0 - 1e-12)


@steady()
@given(
    st.sampled_from(SETS),
    st.floats(5.0, 500.0),
    st.floats(-40.0, 0.0),
    st.floats(50.0, 450.0),
)
def test_the_derivatives_are_those_of_the_currents(
    one: tuple[str, str, Valve], plate: float, grid: float, screen: float
) -> None:
    valve, step = one[2], 1e-4
    at = flow(valve, plate, grid, screen)

    def slope(vp: float, vg: float, vs: float) -> tuple[float, float]:
        up = flow(valve, plate + vp, grid + vg, screen + vs)
        down = flow(valve, plate - vp, grid - vg, screen - vs)
        return float(up.plate - down.plate) / 2e-4, float(up.screen - down.screen) / 2e-4

    small = 1e-4 * max(float(at.gm), 1e-6)
    assert float(at.gm) == pytest.approx(slope(0, step, 0)[0], rel=1e-4, abs=small)
    assert float(at.gp) == pytest.approx(slope(step, 0, 0)[0], rel=1e-4, abs=small)
    assert float(at.gs) == pytest.approx(slope(0, 0, step)[0], rel=1e-4, abs=small)
    if isinstance(valve, Pentode) and grid + screen / float(valve.mu) > 0.01:
        assert float(at.screen_gm) == pytest.approx(slope(0, step, 0)[1], rel=1e-3, abs=small)
        assert float(at.screen_gs) == pytest.approx(slope(0, 0, step)[1], rel=1e-3, abs=small)


def test_the_careful_form_equals_the_printed_one_where_that_does_not_overflow() -> None:
    mu, ex, kg1, kp, kvb = 100.0, 1.4, 1060.0, 600.0, 300.0
    plate, grid = np.meshgrid(np.linspace(20, 400, 25), np.linspace(-4, 0, 21))
    e1 = plate / kp * np.log(1 + np.exp(kp * (1 / mu + grid / np.sqrt(kvb + plate**2))))
    printed = e1**ex / kg1 * (1 + np.sign(e1))
    np.testing.assert_allclose(plate_current(TRIODE, plate, grid), printed, rtol=1e-9, atol=1e-15)


def test_whole_tables_of_voltages_and_of_valves_are_done_at_once() -> None:
    assert plate_current(TRIODE, np.full((3, 1), 250.0), np.linspace(-3, 0, 5)).shape == (3, 5)
    many = Triode(np.full(7, 100.0), 1.4, np.linspace(900, 1200, 7), 600.0, 300.0)
    currents = plate_current(many, 250.0, -2.0)
    assert currents.shape == (7,)
    assert np.all(np.diff(currents) < 0)


def test_a_pentode_takes_its_current_by_the_screen() -> None:
    with pytest.raises(ValueError, match="screen"):
        flow(PENTODE, 250.0, -12.0)
    assert plate_current(PENTODE, 250.0, -12.0, 0.0) == 0.0
    assert isinstance(PENTODE, Pentode)
    assert screen_current(PENTODE, -12.2, 250.0) == flow(PENTODE, 250.0, -12.2, 250.0).screen


def test_without_plate_volts_a_triode_does_not_conduct() -> None:
    assert plate_current(TRIODE, 0.0, 0.0) == 0.0
    assert plate_current(TRIODE, -50.0, 5.0) == 0.0
