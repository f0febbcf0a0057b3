"""The lines of the valves on a sheet: what is asked, what passes, what is off, what cannot be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from endbell.bench.circuit import Circuit
from endbell.bench.kinds import line_kinds
from endbell.bench.lines import Judgement, Line
from endbell.bench.readings import Bench
from endbell.bench.valves.models import model
from endbell.bench.valves.on_sheet import lines
from endbell.bench.valves.operating_point import Wiring, settle

from .amps import (
    CATHODE,
    FIXED,
    HALF,
    bench_of,
    cathode_readings,
    fixed_readings,
    told,
)

Readings = dict[tuple[str, str], float]
OWN = [kind for kind in line_kinds().values() if kind.per in ("valve", "rail", "winding")]


def off(found: Mapping[tuple[str, str], Line]) -> dict[tuple[str, str], Judgement]:
    bad = (Judgement.LOW, Judgement.HIGH, Judgement.ODD, Judgement.IMPOSSIBLE)
    return {key: line.judgement for key, line in found.items() if line.judgement in bad}


@pytest.mark.parametrize(
    ("circuit", "values"), [(FIXED, fixed_readings()), (CATHODE, cathode_readings())]
)
def test_a_good_amp_has_no_line_off(circuit: Circuit, values: Readings) -> None:
    found = told(circuit, values)
    assert off(found) == {}
    for line in ("plate-volts", "plate-current", "plate-dissipation", "valve-operating-point"):
        assert found[(line, "V3")].value is not None
    assert found[("plate-dissipation", "V3")].judgement is Judgement.WITHIN


def test_an_empty_sheet_asks_for_everything_and_passes_nothing() -> None:
    found = told(FIXED, {})
    assert {line.judgement for line in found.values()} == {Judgement.NOT_MEASURED}
    asked = set(found)
    assert {
        ("half-primary", "V3"),
        ("heater-volts", "heat"),
        ("rail-volts", "A"),
        ("rail-volts", "bias"),
        ("ripple", "A"),
        ("grid-volts", "V4"),
        ("plate-volts", "V1a"),
        ("cathode-volts", "V1a"),
        ("screen-volts", "V3"),
        ("plate-drop", "V3"),
        ("plate-current", "V4"),
        ("plate-dissipation", "V4"),
        ("screen-dissipation", "V4"),
        ("balance", "V3+V4"),
        ("valve-operating-point", "V3"),
    } <= asked
    assert {line for line, at in asked if at == "V5"} == {
        "rectifier-reservoir",
        "rectifier-current",
        "rectifier-peak",
    }
    assert all(line.says.endswith(".") for line in found.values())


def test_unpowered_work_comes_before_live_work() -> None:
    order = [line.stage for line in lines(bench_of(FIXED, {}))]
    assert order == sorted(order, key=lambda stage: stage.powered)


def test_every_line_that_is_read_live_says_what_to_beware_of() -> None:
    for kind in line_kinds().values():
        if kind.id in ("rail-volts", "plate-volts", "plate-drop", "screen-volts", "grid-volts"):
            assert kind.powered
            assert "Live work" in kind.caution or "Never the ammeter" in kind.caution
    assert "filter-volts-left" in line_kinds()["half-primary"].needs
    for need in line_kinds()["plate-volts"].needs:
        assert need in line_kinds()


def test_a_sheet_without_a_circuit_is_told_and_held_against_nothing() -> None:
    bare = Circuit("x", "x", "none", "invented world")
    found = told(bare, {("plate-volts", "V1"): 200.0, ("rail-volts", "B+"): 300.0})
    assert {line.judgement for line in found.values()} == {Judgement.NO_LIMIT}
    assert "no valve V1" in found[("plate-volts", "V1")].says


# ---- faults


def test_a_bias_supply_that_has_gone_shows_in_dissipation() -> None:
    values = fixed_readings()
    hot = settle(
        model("6L6GC").valve,
        Wiring(400.0, HALF, grid=-27.0, screen_supply=396.0, screen_ohm=470.0),
    )
    for at in ("V3", "V4"):
        values[("grid-volts", at)] = -27.0
        values[("plate-volts", at)] = float(hot.plate)
        values[("screen-volts", at)] = float(hot.screen)
        values[("plate-drop", at)] = float(hot.plate_amp) * HALF * 1.0786
    values[("rail-volts", "A")] = 400.0
    found = told(FIXED, values)
    assert found[("plate-dissipation", "V3")].judgement is Judgement.HIGH
    assert found[("grid-volts", "V3")].judgement is Judgement.HIGH
    # the valve itself is good: it draws what a good one would at those voltages
    assert found[("valve-operating-point", "V3")].judgement is Judgement.WITHIN


def test_a_tired_valve_is_told_from_wrong_bias() -> None:
    values = fixed_readings()
    values[("plate-drop", "V4")] *= 0.5
    found = told(FIXED, values)
    assert found[("valve-operating-point", "V4")].judgement is Judgement.LOW
    assert "tired" in found[("valve-operating-point", "V4")].says
    assert found[("valve-operating-point", "V3")].judgement is Judgement.WITHIN
    assert found[("balance", "V3+V4")].judgement is Judgement.HIGH
    assert found[("grid-volts", "V4")].judgement is Judgement.WITHIN


def test_a_leaking_coupling_capacitor_lifts_the_grid() -> None:
    values = cathode_readings()
    values[("grid-volts", "V3")] = 3.5
    assert told(CATHODE, values)[("grid-volts", "V3")].judgement is Judgement.HIGH


def test_a_dead_first_stage_has_its_plate_at_the_rail_and_nothing_on_the_cathode() -> None:
    values = fixed_readings()
    values[("plate-volts", "V1a")] = 299.0
    values[("cathode-volts", "V1a")] = 0.0
    found = told(FIXED, values)
    assert found[("plate-volts", "V1a")].judgement is Judgement.HIGH
    assert found[("cathode-volts", "V1a")].judgement is Judgement.LOW


def test_a_drifted_cathode_resistor_shows_because_two_ways_do_not_agree() -> None:
    values = cathode_readings()
    # 130 ohm that has become 220: the volts rise, the current falls
    now = settle(model("EL84").valve, Wiring(310.0, HALF, 220.0, sharing=2.0, screen_supply=300.0))
    for at in ("V3", "V4"):
        values[("cathode-volts", at)] = float(now.cathode)
        values[("plate-volts", at)] = float(now.plate)
        values[("plate-drop", at)] = float(now.plate_amp) * HALF * 1.0786
    found = told(CATHODE, values)
    assert found[("plate-current", "V3")].judgement is Judgement.ODD
    assert "one of the resistances" in found[("plate-current", "V3")].says
    assert found[("cathode-volts", "V3")].judgement is Judgement.HIGH


def test_a_dried_out_reservoir_shows_as_ripple() -> None:
    values = fixed_readings()
    values[("ripple", "A")] = 14.0
    assert told(FIXED, values)[("ripple", "A")].judgement is Judgement.HIGH


def test_a_low_rail_is_low_and_the_voltages_behind_it_are_not_blamed() -> None:
    values = fixed_readings()
    small = settle(model("12AX7").valve, Wiring(250.0, 100e3, 1500.0))
    values[("rail-volts", "C")] = 250.0
    values[("plate-volts", "V1a")] = float(small.plate)
    values[("cathode-volts", "V1a")] = float(small.cathode)
    found = told(FIXED, values)
    assert found[("rail-volts", "C")].judgement is Judgement.LOW
    assert found[("plate-volts", "V1a")].judgement is Judgement.WITHIN


def test_on_high_mains_a_higher_rail_is_right() -> None:
    values = fixed_readings()
    values[("rail-volts", "A")] = 475.0
    assert told(FIXED, values)[("rail-volts", "A")].judgement is Judgement.WITHIN
    values[("rail-volts", "A")] = 485.0
    assert told(FIXED, values)[("rail-volts", "A")].judgement is Judgement.HIGH
    values[("mains-volts", "")] = 128.0
    assert told(FIXED, values)[("rail-volts", "A")].judgement is Judgement.WITHIN


# ---- the rectifier


def test_a_reservoir_too_large_for_its_rectifier_is_said() -> None:
    values = fixed_readings()
    values[("capacitor-farad", "C1")] = 42e-6
    assert told(FIXED, values)[("rectifier-reservoir", "V5")].judgement is Judgement.WITHIN
    values[("capacitor-farad", "C1")] = 100e-6
    line = told(FIXED, values)[("rectifier-reservoir", "V5")]
    assert line.judgement is Judgement.HIGH
    assert "60 µF" in line.says


def test_what_the_rectifier_carries_is_all_that_is_drawn() -> None:
    found = told(FIXED, fixed_readings())
    pair = 2.0 * (found[("plate-current", "V3")].value or 0.0)
    on = (428.0 - 424.0) / 400.0
    assert found[("rectifier-current", "V5")].value == pytest.approx(pair + on)
    peak = found[("rectifier-peak", "V5")].value
    assert peak is not None
    assert peak > 3.0 * (pair + on)
    # both ratings stand from memory
    assert found[("rectifier-current", "V5")].judgement is Judgement.CHECK


def test_silicon_has_no_lines_of_a_valve_rectifier() -> None:
    assert not any(line.startswith("rectifier-") for line, _at in told(CATHODE, cathode_readings()))


# ---- off means off


def test_good_amps_with_parts_in_tolerance_are_seldom_called_off() -> None:
    random = np.random.default_rng(1961)
    lines_told = called_off = 0
    for _amp in range(30):
        values = cathode_readings()
        ohms = random.uniform(0.9, 1.1, 4)
        valve = model("12AX7").valve
        changed = replace(
            valve,
            kg1=valve.kg1 / float(np.exp(random.normal(0.0, 0.10))),
            mu=valve.mu * float(np.exp(random.normal(0.0, 0.03))),
        )
        small = settle(changed, Wiring(300.0, 100e3 * ohms[0], 1500.0 * ohms[1]))
        big = model("EL84").valve
        bent = replace(
            big,
            kg1=big.kg1 / float(np.exp(random.normal(0.0, 0.10))),
            mu=big.mu * float(np.exp(random.normal(0.0, 0.03))),
        )
        pair = settle(bent, Wiring(310.0, HALF, 130.0 * ohms[2], sharing=2.0, screen_supply=300.0))
        values[("plate-volts", "V1a")] = float(small.plate)
        values[("cathode-volts", "V1a")] = float(small.cathode)
        for at in ("V3", "V4"):
            values[("cathode-volts", at)] = float(pair.cathode)
            values[("plate-volts", at)] = float(pair.plate)
            values[("plate-drop", at)] = float(pair.plate_amp) * HALF * 1.0786
        found = told(CATHODE, values)
        judged = [
            line
            for line in found.values()
            if line.id in ("plate-volts", "cathode-volts", "valve-operating-point")
        ]
        lines_told += len(judged)
        called_off += sum(line.judgement is not Judgement.WITHIN for line in judged)
    # two standard deviations: about one line in twenty at the most
    assert lines_told >= 200
    assert called_off / lines_told < 0.05


def test_the_same_sheet_gives_the_same_lines() -> None:
    bench: Bench = bench_of(FIXED, fixed_readings())
    assert lines(bench) == lines(bench)
    assert len(OWN) > 10
