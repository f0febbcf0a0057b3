"""'Off' means off by more than the parts' tolerances and the valve's own spread imply."""

from __future__ import annotations

import numpy as np
import pytest

from endbell.bench.valves.models import model
from endbell.bench.valves.operating_point import Wiring
from endbell.bench.valves.tolerance import assumed, even, linear, monte_carlo

CASES = [
    (
        "12AX7",
        Wiring(300.0, 100e3, 1500.0),
        {"load_ohm": 10e3, "cathode_ohm": 150.0, "supply": 6.0},
    ),
    (
        "EL84",
        Wiring(310.0, 120.0, 130.0, sharing=2.0, screen_supply=300.0, screen_ohm=470.0),
        {"cathode_ohm": 13.0, "screen_ohm": 47.0, "supply": 5.0, "screen_supply": 5.0},
    ),
    (
        "6L6GC",
        Wiring(420.0, 60.0, grid=-36.0, screen_supply=410.0, screen_ohm=470.0),
        {"grid": 0.5, "screen_ohm": 47.0, "supply": 5.0},
    ),
]
VALVE = {"emission": 0.10, "mu": 0.03}


@pytest.mark.parametrize(("kind", "wiring", "tolerance"), CASES)
def test_sensitivities_and_a_thousand_built_amps_agree(
    kind: str, wiring: Wiring, tolerance: dict[str, float]
) -> None:
    valve = model(kind).valve
    by_slope = linear(valve, wiring, {k: even(v) for k, v in tolerance.items()}, VALVE)
    drawn = monte_carlo(valve, wiring, tolerance, VALVE, 4000, np.random.default_rng(6))
    for figure in ("plate_amp", "plate", "cathode", "plate_watt"):
        spread = float(np.std(drawn[figure]))
        assert by_slope.sd[figure] == pytest.approx(spread, rel=0.06, abs=1e-6)


def test_each_share_is_that_of_its_part() -> None:
    kind, wiring, tolerance = CASES[0]
    valve = model(kind).valve
    sd = {k: even(v) for k, v in tolerance.items()}
    together = linear(valve, wiring, sd, VALVE)
    for name in sd:
        alone = linear(valve, wiring, {name: sd[name]}, {})
        assert alone.sd["plate"] == pytest.approx(together.shares["plate"][name], rel=1e-3)
    assert together.sd["plate"] ** 2 == pytest.approx(
        sum(v * v for v in together.shares["plate"].values())
    )


def test_a_cathode_resistor_holds_a_stage_steadier_than_fixed_bias() -> None:
    valve = model("6V6GT").valve
    held = linear(valve, Wiring(320.0, cathode_ohm=300.0, screen_supply=300.0), {}, VALVE)
    bias = -float(held.nominal.cathode)
    fixed = linear(valve, Wiring(305.0, grid=bias, screen_supply=285.0), {}, VALVE)
    ratio = held.sd["plate_amp"] / float(held.nominal.plate_amp)
    assert ratio < 0.6 * fixed.sd["plate_amp"] / float(fixed.nominal.plate_amp)


def test_perfect_parts_and_a_perfect_valve_leave_no_spread() -> None:
    none = linear(model("12AX7").valve, Wiring(300.0, 100e3, 1500.0), {}, {})
    assert none.sd["plate"] == 0.0


def test_every_assumed_spread_says_where_it_is_from() -> None:
    for name, one in assumed().items():
        assert one.source, name
        assert one.confidence in ("common practice, no source", "from memory", "published")
