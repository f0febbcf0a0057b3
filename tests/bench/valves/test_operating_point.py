"""A valve settles where its curve meets its parts; an independent circuit engine agrees."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.bench.valves.koren import Pentode, Triode, flow
from endbell.bench.valves.models import model, models
from endbell.bench.valves.operating_point import NoWiring, Wiring, settle

from .amps import steady
from .spice import needs_ngspice, nodes, valve_lines

TRIODES = [one for one in models() if isinstance(one.valve, Triode)]
PENTODES = [one for one in models() if isinstance(one.valve, Pentode) and one.type != "EF86"]
GRID = [
    *(
        (one, Wiring(supply, load, cathode))
        for one in TRIODES
        if one.type.startswith(("12", "6S", "57"))
        for supply, load, cathode in product((100.0, 250.0, 400.0), (47e3, 220e3), (470.0, 2200.0))
    ),
    *(
        (one, Wiring(300.0, 100e3, 470.0, 15e3, sharing=2.0))
        for one in TRIODES
        if one.type in ("12AX7", "12AT7", "12AU7")
    ),
    *(
        (one, Wiring(s, 120.0, k, sharing=n, screen_supply=s - 8.0, screen_ohm=r))
        for one in PENTODES
        for s, k, n, r in ((250.0, 220.0, 1.0, 0.0), (310.0, 200.0, 2.0, 470.0))
    ),
    *(
        (one, Wiring(s, 60.0, grid=g, screen_supply=s - 5.0, screen_ohm=1000.0))
        for one in PENTODES
        for s, g in ((250.0, -10.0), (400.0, -32.0))
    ),
]


@needs_ngspice
def test_operating_points_agree_with_ngspice_to_half_a_percent(tmp_path: Path) -> None:
    elements: list[str] = []
    wanted: list[str] = []
    for n, (one, w) in enumerate(GRID):
        p, g, k, s = f"p{n}", f"g{n}", f"k{n}", f"s{n}"
        elements += [
            f"Vb{n} b{n} 0 {w.supply}",
            f"Rl{n} b{n} {p} {w.load_ohm}",
            valve_lines(f"x{n}", one.valve, p, g, k, s),
        ]
        # n like valves through one resistor: the resistor looks n times as large to each
        if w.tail_ohm:
            elements += [f"Rk{n} {k} {g} {w.cathode_ohm * w.sharing}"]
            elements += [f"Rt{n} {g} 0 {w.tail_ohm * w.sharing}"]
        else:
            elements += [f"Vg{n} {g} 0 {w.grid}"]
            elements += [f"Rk{n} {k} 0 {max(w.cathode_ohm * w.sharing, 1e-6)}"]
        if isinstance(one.valve, Pentode):
            elements += [
                f"Vs{n} q{n} 0 {w.screen_supply}",
                f"Rs{n} q{n} {s} {max(w.screen_ohm, 1e-3)}",
            ]
            wanted += [p, k, s]
        else:
            wanted += [p, k]
    theirs = iter(nodes(elements, wanted, tmp_path))
    worst = 0.0
    for one, w in GRID:
        ours = settle(one.valve, w)
        plate, cathode = next(theirs), next(theirs)
        assert float(ours.plate) == pytest.approx(plate, rel=5e-3)
        if w.cathode_ohm:
            assert float(ours.cathode) == pytest.approx(cathode, rel=5e-3)
        current = (w.supply - plate) / w.load_ohm
        worst = max(worst, abs(float(ours.plate_amp) / current - 1.0))
        if isinstance(one.valve, Pentode):
            screen = next(theirs)
            assert float(ours.screen) == pytest.approx(screen, rel=5e-3)
    assert len(GRID) >= 150
    assert worst < 5e-3


VALVES = st.sampled_from([one.valve for one in models()])


@steady()
@given(
    VALVES,
    st.floats(0.0, 800.0),
    st.floats(0.0, 5e5),
    st.floats(0.0, 1e4),
    st.floats(-60.0, 0.0),
    st.floats(0.0, 1e4),
)
def test_what_the_parts_let_through_is_what_the_valve_draws(
    valve: Triode | Pentode, supply: float, load: float, cathode: float, grid: float, screen: float
) -> None:
    at = settle(
        valve,
        Wiring(supply, load, cathode, grid=grid, screen_supply=0.9 * supply, screen_ohm=screen),
    )
    drawn = flow(valve, at.plate - at.cathode, at.grid - at.cathode, at.screen - at.cathode)
    assert float(at.plate_amp) == pytest.approx(float(drawn.plate), rel=1e-5, abs=1e-9)
    assert float(at.screen_amp) == pytest.approx(float(drawn.screen), rel=1e-5, abs=1e-9)
    total = float(at.plate_amp + at.screen_amp)
    assert float(at.cathode) == pytest.approx(total * cathode, rel=1e-6, abs=1e-7)
    assert -1e-9 <= float(at.plate_watt) < np.inf


@steady(40)
@given(VALVES, st.floats(50.0, 400.0), st.floats(100.0, 1e4), st.floats(1.05, 3.0))
def test_a_larger_cathode_resistor_means_less_current(
    valve: Triode | Pentode, supply: float, cathode: float, times: float
) -> None:
    small, large = (
        settle(valve, Wiring(supply, 1000.0, ohm, screen_supply=supply))
        for ohm in (cathode, cathode * times)
    )
    assert large.plate_amp < small.plate_amp
    assert large.cathode > small.cathode


def test_many_stages_at_once_are_the_same_as_one_by_one() -> None:
    valve = model("EL84").valve
    ohms = np.linspace(100.0, 300.0, 9)
    together = settle(valve, Wiring(300.0, 120.0, ohms, screen_supply=295.0, screen_ohm=470.0))
    for n, ohm in enumerate(ohms):
        one = settle(valve, Wiring(300.0, 120.0, ohm, screen_supply=295.0, screen_ohm=470.0))
        assert together.plate_amp[n] == pytest.approx(float(one.plate_amp), rel=1e-9)


def test_two_valves_on_one_resistor_settle_like_one_on_twice_the_resistor() -> None:
    valve = model("6V6GT").valve
    pair = settle(valve, Wiring(350.0, 0.0, 250.0, sharing=2.0, screen_supply=300.0))
    one = settle(valve, Wiring(350.0, 0.0, 500.0, screen_supply=300.0))
    assert float(pair.plate_amp) == pytest.approx(float(one.plate_amp))


def test_a_valve_biased_past_cut_off_draws_nothing_and_its_plate_stands_at_the_rail() -> None:
    at = settle(model("12AU7").valve, Wiring(250.0, 47e3, grid=-60.0))
    assert float(at.plate_amp) < 1e-9
    assert float(at.plate) == pytest.approx(250.0)


@pytest.mark.parametrize(
    ("wiring", "word"),
    [
        (Wiring(300.0, -100e3), "load_ohm"),
        (Wiring(300.0, 100e3, -1.0), "cathode_ohm"),
        (Wiring(float("nan"), 100e3), "supply"),
        (Wiring(300.0, 100e3, 100.0, sharing=0.0), "sharing"),
    ],
)
def test_impossible_parts_are_refused_by_name(wiring: Wiring, word: str) -> None:
    with pytest.raises(NoWiring, match=word):
        settle(model("12AX7").valve, wiring)
