"""A stage at full drive: what is in the load, what distortion, what the supply sees."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.bench.valves.full_signal import driven
from endbell.bench.valves.koren import flow
from endbell.bench.valves.models import model

from .amps import steady


def test_a_small_drive_is_amplified_as_the_small_signal_says() -> None:
    valve = model("12AU7").valve
    load, grid = 20e3, -8.0
    small = flow(valve, 250.0, grid)
    # drive is the whole way to 0 V: take a bias so near to 0 that it is small
    at = driven(valve, 100.0, -0.05, load)
    gain = flow(valve, 100.0, -0.05)
    swing = float(gain.mu) * load / (float(gain.rp) + load) * 0.05
    assert at.watt == pytest.approx(swing**2 / 2.0 / load, rel=0.01)
    assert at.thd < 0.005
    assert float(small.plate) > 0.0


def test_push_pull_cancels_the_even_harmonics() -> None:
    valve = model("6V6GT").valve
    one = driven(valve, 250.0, -12.5, 5000.0, 250.0)
    two = driven(valve, 250.0, -12.5, 10000.0, 250.0, push_pull=True)
    assert two.thd < one.thd
    assert two.watt == pytest.approx(2.0 * one.watt, rel=0.25)


@steady(25)
@given(
    st.sampled_from(["6V6GT", "EL84", "6L6GC", "EL34"]),
    st.floats(200.0, 450.0),
    st.floats(0.3, 0.9),
    st.floats(2e3, 1e4),
    st.booleans(),
)
def test_more_does_not_come_out_than_the_supply_puts_in(
    kind: str, plate: float, share: float, load: float, pair: bool
) -> None:
    one = model(kind).valve
    grid = -share * 250.0 / float(np.asarray(one.mu))
    at = driven(one, plate, grid, load, 250.0, push_pull=pair)
    # 78.5 % for a sine; a clipped one comes nearer to all of it
    assert 0.0 <= at.watt <= plate * at.plate_amp
