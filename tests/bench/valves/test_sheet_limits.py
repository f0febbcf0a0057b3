"""What cannot be on a sheet of valves, and how ratings are held on it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from endbell.bench.lines import Judgement

from .amps import CATHODE, FIXED, cathode_readings, fixed_readings, told

# ---- what cannot be


@pytest.mark.parametrize(
    ("key", "value", "word"),
    [
        (("plate-volts", "V3"), -425.0, "swapped"),
        (("cathode-volts", "V1a"), -1.5, "swapped"),
        (("rail-volts", "A"), -428.0, "swapped"),
        (("rail-volts", "bias"), 52.0, "swapped"),
        (("grid-volts", "V3"), 43.0, "swapped"),
        (("plate-volts", "V3"), 425e3, "unit"),
        (("plate-volts", "V3"), float("nan"), "not a number"),
        (("heater-volts", "heat"), 6350.0, "unit"),
        (("plate-volts", "V1a"), 390.0, "rail that feeds it"),
        (("plate-drop", "V3"), -2.6, "swapped"),
        (("probe-current", "V3"), 43.7, "unit"),
    ],
)
def test_what_cannot_be_is_told_in_a_sentence(
    key: tuple[str, str], value: float, word: str
) -> None:
    line = told(FIXED, fixed_readings() | {key: value})[key]
    assert line.judgement is Judgement.IMPOSSIBLE
    assert word in line.says


@pytest.mark.parametrize("key", [("rail-volts", "A"), ("rail-volts", "C"), ("grid-volts", "V3")])
def test_swapped_probes_at_one_place_call_nothing_else_off(key: tuple[str, str]) -> None:
    values = fixed_readings()
    values[key] = -values[key]
    found = told(FIXED, values)
    assert found.pop(key).judgement is Judgement.IMPOSSIBLE
    off = (Judgement.LOW, Judgement.HIGH, Judgement.ODD, Judgement.IMPOSSIBLE)
    assert {k: line.says for k, line in found.items() if line.judgement in off} == {}


def test_a_plate_below_its_cathode_cannot_be() -> None:
    values = cathode_readings()
    values[("plate-volts", "V3")] = 5.0
    assert told(CATHODE, values)[("plate-volts", "V3")].judgement is Judgement.IMPOSSIBLE


def test_an_impossible_reading_is_used_nowhere_else() -> None:
    values = fixed_readings()
    values[("plate-drop", "V3")] = -2.6
    found = told(FIXED, values)
    assert found[("plate-current", "V3")].judgement is Judgement.NOT_MEASURED
    assert found[("balance", "V3+V4")].judgement is Judgement.NOT_MEASURED


# ---- ratings and their systems


def test_a_design_centre_rating_is_held_at_nominal_mains() -> None:
    values = cathode_readings()
    plain = told(CATHODE, values)[("plate-dissipation", "V3")]
    high = told(CATHODE, values | {("mains-volts", ""): 241.5})[("plate-dissipation", "V3")]
    assert "nominal mains" in plain.bounds[0].title
    assert plain.bounds[0].high == pytest.approx(12.0)
    # 5 % more mains: the same reading may be 10 % more
    assert high.bounds[0].high == pytest.approx(12.0 * 1.05**2)


def test_a_design_maximum_rating_is_held_at_the_highest_mains() -> None:
    line = told(FIXED, fixed_readings())[("plate-dissipation", "V3")]
    assert line.bounds[0].high == pytest.approx(30.0 / 1.1**2)
    assert "10% high" in line.bounds[0].title


def test_a_rating_that_stands_from_memory_never_passes_a_line_by_itself() -> None:
    line = told(FIXED, fixed_readings())[("screen-dissipation", "V3")]
    assert line.bounds[0].confidence == "from memory"
    assert line.judgement is Judgement.CHECK


def test_a_pair_on_one_resistor_cannot_be_balanced_by_it() -> None:
    values = {k: v for k, v in cathode_readings().items() if k[0] != "plate-drop"}
    line = told(CATHODE, values)[("balance", "V3+V4")]
    assert line.judgement is Judgement.NOT_MEASURED
    assert "share their cathode resistor" in line.says


def test_a_valve_of_no_known_type_is_still_read() -> None:
    seats = tuple(replace(seat, type="XX99") if seat.at == "V3" else seat for seat in FIXED.seats)
    found = told(replace(FIXED, seats=seats), fixed_readings())
    assert found[("plate-volts", "V3")].judgement is Judgement.WITHIN
    assert "no rating" in found[("plate-dissipation", "V3")].says
    assert ("valve-operating-point", "V3") not in found
