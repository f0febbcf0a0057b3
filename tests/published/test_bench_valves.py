"""Valves, supplies and ratings against published figures, each with its source beside it.

Rows carry their own source and whether they were seen or stand from memory: the tables in
``src/endbell/bench/data/valves`` and ``data/koren_check_points.csv``.  Nothing is tuned; what a
model misses is listed here and in docs/valve_models.md.
"""

from __future__ import annotations

from math import pi, sqrt
from pathlib import Path

import pytest

from endbell.bench.valves.bias import warm_copper
from endbell.bench.valves.koren import flow
from endbell.bench.valves.misfit import (
    CURRENT_WITHIN,
    GAIN_WITHIN,
    Miss,
    book_points,
    coupled_stages,
    misfit,
    root_mean,
    still_points,
    typical_operation,
)
from endbell.bench.valves.models import model, models, small_signal
from endbell.bench.valves.operating_point import Wiring, settle
from endbell.bench.valves.ratings import allowed_now, rating, rating_systems
from endbell.bench.valves.rectifier import Rectifier, rectifier
from endbell.bench.valves.supply import (
    Winding,
    capacitor_input,
    choke_input,
    critical_amp,
    textbook_ripple,
)
from endbell.bench.valves.table import misfits, page
from endbell.bench.valves.tables import rows

from .rows import Row
from .rows import rows as published

ROOT = Path(__file__).parents[2]
DATA = ROOT / "src" / "endbell" / "bench" / "data" / "valves"


def usual(miss: Miss) -> bool:
    return model(miss.type).name == miss.set


# ---- Koren's equations (computed from his table 1; koren_check_points.csv)


@pytest.mark.parametrize(
    "row", published("koren_check_points"), ids=lambda r: f"{r['type']}-{r['Vp']}"
)
def test_the_equations_give_the_printed_digits(row: Row) -> None:
    valve = model(row["type"], "koren-1996").valve
    screen = float(row["Vg2"]) if row["Vg2"] else None
    at = flow(valve, float(row["Vp"]), float(row["Vg1"]), screen)
    digits = len(row["Ip_mA_model"].partition(".")[2])
    assert round(float(at.plate) * 1e3, digits) == float(row["Ip_mA_model"])
    if row["Ig2_mA_model"]:
        digits = len(row["Ig2_mA_model"].partition(".")[2])
        assert round(float(at.screen) * 1e3, digits) == float(row["Ig2_mA_model"])


def test_the_authors_own_twelve_ax7_misses_the_data_book_at_low_current() -> None:
    # 100 V, -1 V: the book says 0.5 mA (Receiving Tube Manual RC-30, from memory), table 1 gives 0.1
    at = flow(model("12AX7", "koren-1996").valve, 100.0, -1.0)
    assert float(at.plate) / 0.5e-3 == pytest.approx(0.20, abs=0.01)


# ---- single points of the data books (test_points.csv)

POINTS = [m for m in book_points() if usual(m) and m.what == "plate A"]


@pytest.mark.parametrize("miss", POINTS, ids=lambda m: f"{m.type}-{m.row}")
def test_plate_current_at_a_books_point(miss: Miss) -> None:
    assert miss.ratio == pytest.approx(1.0, abs=CURRENT_WITHIN)


SLOPES = [m for m in book_points() if usual(m) and m.what == "gm S"]


@pytest.mark.parametrize("miss", SLOPES, ids=lambda m: f"{m.type}-{m.row}")
def test_mutual_conductance_at_a_books_point(miss: Miss) -> None:
    assert miss.ratio == pytest.approx(1.0, abs=CURRENT_WITHIN)


def test_plate_resistance_holds_for_triodes_and_is_far_too_high_for_pentodes() -> None:
    for miss in (m for m in book_points() if usual(m) and m.what == "rp ohm"):
        if model(miss.type).valve.__class__.__name__ == "Triode":
            assert miss.ratio == pytest.approx(1.0, abs=CURRENT_WITHIN)
        else:
            assert 1.4 < miss.ratio < 4.0


# ---- typical operation of output stages (typical_operation.csv): those that miss, by name

STILL = [m for m in typical_operation() if usual(m) and m.what == "plate A"]
FULL = [m for m in typical_operation() if usual(m) and m.what == "full-drive W"]
STILL_MISSES = {"6550_pp_600", "el34_pp_425", "el34_pp_800", "el84_pp_300f"}
FULL_MISSES = {
    "kt66_se_250",
    "el34_pp_375",
    "el34_pp_425",
    "el34_pp_800",
    "el84_se_250",
    "el84_pp_250",
    "el84_pp_300",
    "el84_pp_300f",
}


@pytest.mark.parametrize("miss", STILL, ids=lambda m: m.row)
def test_plate_current_at_rest_of_a_typical_operation(miss: Miss) -> None:
    assert miss.reproduced == (miss.row not in STILL_MISSES), miss.ratio


@pytest.mark.parametrize("miss", FULL, ids=lambda m: m.row)
def test_output_power_of_a_typical_operation(miss: Miss) -> None:
    assert miss.reproduced == (miss.row not in FULL_MISSES), miss.ratio


# ---- the chart of resistance-coupled stages (resistance_coupled.csv)

CHART = [m for m in coupled_stages() if usual(m)]


@pytest.mark.parametrize("miss", CHART, ids=lambda m: m.row)
def test_gain_of_a_resistance_coupled_stage(miss: Miss) -> None:
    # the six at 90 V with a plate resistor of 220k and more come out high; all others hold
    high = miss.row.startswith(("90 V, 220k", "90 V, 470k"))
    assert miss.reproduced == (not high), miss.ratio
    assert not high or 1.10 < miss.ratio < 1.25


def test_the_worked_example_of_gain() -> None:
    # mu 100, rp 80 kohm, 220k parallel 470k: 65.2 (teaching page, seen; last row of the chart)
    row = rows("resistance_coupled")[-1]
    load = 220e3 * 470e3 / (220e3 + 470e3)
    assert 100.0 * load / (80e3 + load) == pytest.approx(float(row["voltage_gain"]), abs=0.1)


def test_a_stage_solved_and_then_amplified_matches_the_chart() -> None:
    # 300 V, 100k, next grid 1 M would be off the chart; 470k: gain 57 (manual's chart, from memory)
    at = settle(model("12AX7").valve, Wiring(300.0, 100e3, 1700.0))
    small = small_signal("12AX7", float(at.plate - at.cathode), -float(at.cathode))
    load = 100e3 * 470e3 / 570e3
    assert small.mu * load / (small.rp + load) == pytest.approx(57.0, rel=GAIN_WITHIN)


# ---- valve constants and ratings (ratings.csv)


@pytest.mark.parametrize("name", ["12AX7", "12AX7A", "12AT7", "12AY7", "12AU7"])
def test_printed_mu_is_printed_gm_times_rp(name: str) -> None:
    row = next(r for r in rows("ratings") if name in r["names"].split(";"))
    product = float(row["gm_umho"]) * 1e-6 * float(row["rp_ohm"])
    assert product == pytest.approx(float(row["mu"]), rel=0.02)


@pytest.mark.parametrize(
    ("centre", "maximum"), [("6V6GT", "6V6GTA"), ("12AX7", "12AX7A"), ("6550", "6550A")]
)
def test_the_same_valve_in_two_systems_differs_by_the_mains(centre: str, maximum: str) -> None:
    # ratings.csv: 315 -> 350 V and 12 -> 14 W, 300 -> 330 V and 1.0 -> 1.2 W, 600 -> 660 V and 35 -> 42 W
    one, two = rating(centre), rating(maximum)
    assert one and two and one.plate_volts and two.plate_volts and one.plate_watt and two.plate_watt
    assert one.system is rating_systems()["design-centre"]
    assert two.system is rating_systems()["design-maximum"]
    assert two.plate_volts.value / one.plate_volts.value == pytest.approx(1.1, abs=0.02)
    # at nominal mains both allow the same watts, within what makers rounded
    by_centre = allowed_now(one.plate_watt.value, one.system, 1.0, 2.0)
    by_maximum = allowed_now(two.plate_watt.value, two.system, 1.0, 2.0)
    assert by_maximum / by_centre == pytest.approx(1.0, abs=0.04)


@pytest.mark.parametrize(
    ("name", "watt", "volts", "system"),
    [
        ("6L6GC", 30.0, 500.0, "design-maximum"),  # an encyclopaedia's page, seen
        ("EL84", 12.0, 300.0, "design-centre"),  # an encyclopaedia's page, seen
        ("EL34", 25.0, 800.0, "design-centre"),  # forum pages quoting the data book, seen
        ("KT66", 25.0, 500.0, "design-centre"),  # an encyclopaedia's page, seen
        ("12AX7", 1.0, 300.0, "design-centre"),  # an encyclopaedia's page, seen
    ],
)
def test_ratings_that_were_seen(name: str, watt: float, volts: float, system: str) -> None:
    found = rating(name)
    assert found and found.plate_watt and found.plate_volts
    assert (found.plate_watt.value, found.plate_volts.value) == (watt, volts)
    assert found.plate_watt.confidence == found.plate_volts.confidence == "published"
    assert found.system.id == system


# ---- rectifiers (rectifiers.csv: drops from memory, perveances seen)


@pytest.mark.parametrize(
    "row", [r for r in rows("rectifiers") if r["perveance"]], ids=lambda r: r["title"]
)
def test_the_drop_of_a_rectifier(row: Row) -> None:
    ours = rectifier(row["title"].split("/")[0]).drop(float(row["drop_mA"]) * 1e-3)
    # the fits of GZ34 and 5Y3GT drop less than the manual's one point by 13 and 17 %
    near = 0.05 if row["title"] not in ("GZ34/5AR4", "5Y3GT") else 0.18
    assert ours == pytest.approx(float(row["drop_V"]), rel=near)


# ---- supplies (electronics textbooks; formulas from memory)


def test_full_wave_average_is_nine_tenths_of_the_rms() -> None:
    # 2 sqrt(2)/pi = 0.900
    at = choke_input(Winding(300.0, 1e-9, 50.0), Rectifier("ideal"), 20.0, 0.0, 50e-6, 0.1)
    assert at.rails[0].volts / 300.0 == pytest.approx(0.900, abs=5e-4)


def test_ripple_factor_of_a_choke_input_filter_at_60_hertz() -> None:
    # r = 0.83/(L C), L in H, C in uF, 60 Hz full-wave
    at = choke_input(Winding(300.0, 1e-9, 60.0), Rectifier("ideal"), 10.0, 0.0, 20e-6, 0.1)
    assert at.rails[0].ripple / at.rails[0].volts == pytest.approx(0.83 / (10.0 * 20.0), rel=0.02)


def test_critical_inductance_is_the_load_over_1130_at_60_hertz() -> None:
    winding = Winding(300.0, 1e-9, 60.0)
    load = 2.0 * winding.peak / pi / critical_amp(winding, 5.0)
    assert load / 5.0 == pytest.approx(1130.0, rel=0.002)


def test_ripple_factor_of_a_capacitor_input_filter() -> None:
    # r = 1/(4 sqrt(3) f C R), f of the mains, full-wave: 2900/(C R) at 50 Hz with C in uF
    amp, farad = 0.1, 50e-6
    volts = 400.0
    factor = textbook_ripple(amp, farad, 100.0) / volts
    assert factor == pytest.approx(1.0 / (4.0 * sqrt(3.0) * 50.0 * farad * volts / amp), rel=1e-12)
    assert factor == pytest.approx(2887.0 / (50.0 * 4000.0), rel=1e-3)
    stiff = capacitor_input(Winding(290.0, 0.5, 50.0, "bridge"), Rectifier("ideal"), farad, 0.02)
    assert stiff.rails[0].ripple == pytest.approx(textbook_ripple(0.02, farad, 100.0), rel=0.06)


def test_unloaded_the_reservoir_stands_at_the_square_root_of_two() -> None:
    free = capacitor_input(Winding(300.0, 50.0, 50.0), rectifier("GZ34"), 32e-6, 1e-6)
    assert free.rails[0].volts == pytest.approx(424.3, rel=2e-3)


# ---- copper (IEC 60028: 0.00393/K at 20 degrees C; from memory)


@pytest.mark.parametrize(
    ("celsius", "ratio"), [(0.0, 0.9214), (20.0, 1.0), (50.0, 1.1179), (75.0, 1.2162)]
)
def test_copper_by_temperature(celsius: float, ratio: float) -> None:
    assert warm_copper(1.0, 293.15, 273.15 + celsius) == pytest.approx(ratio, abs=1e-4)


# ---- what is printed is what is worked out


def test_the_page_of_the_misses_is_current() -> None:
    assert (ROOT / "docs" / "valve_models.md").read_text(encoding="utf-8") == page()


def test_the_table_of_misfits_is_current() -> None:
    assert (DATA / "misfit.csv").read_text(encoding="utf-8") == misfits()


def test_the_set_in_use_is_the_one_nearest_to_the_books() -> None:
    from math import log

    found: dict[tuple[str, str], list[float]] = {}
    for miss in still_points():
        found.setdefault((miss.type, miss.set), []).append(log(miss.ratio))
    for kind in {kind for kind, _name in found}:
        nearest = min((root_mean(v), n) for (k, n), v in found.items() if k == kind)
        assert root_mean(found[kind, model(kind).name]) == pytest.approx(nearest[0])
    assert [m.type for m in models() if m.usual] == sorted({m.type for m in models()})


def test_a_set_that_no_book_can_judge_is_not_taken_to_be_perfect() -> None:
    assert misfit("300B") > 0.05
    assert misfit("5881") > 0.05
