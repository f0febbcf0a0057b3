"""Safety figures against published ones: discharge, measuring networks, cords, limits.

``data/discharge_cases.csv`` is computed by t = R·C·ln(V0/V), the formula of any textbook.  What
was seen at an address was an excerpt, never the paper standard; 'from memory' is said where so.
"""

from __future__ import annotations

import csv
from importlib.resources import files
from math import exp, inf, log, sqrt

import numpy as np
import pytest

from endbell.bench.circuit import Circuit
from endbell.bench.facts import facts
from endbell.bench.kinds import line_kinds
from endbell.bench.limits import bounds_for, limits
from endbell.bench.readings import Bench
from endbell.bench.safety.bond import by_length, cord_resistance
from endbell.bench.safety.discharge import discharge_time, stored_energy, volts_after
from endbell.bench.safety.leakage import filter_share, impedance, leakage
from endbell.bench.safety.mains import unloaded_peak
from endbell.bench.safety.rails import rails, time_below
from endbell.bench.safety.standing import network_of

from .rows import Row, rows

SHEET = Bench(Circuit("x", "X", "invented world", "invented world"), (), line_kinds())
CASES = rows("discharge_cases")


@pytest.mark.parametrize("row", CASES, ids=lambda row: row["id"])
def test_a_capacitor_discharges_in_the_published_time(row: Row) -> None:
    farad, ohm = float(row["C_F"]), float(row["R_ohm"])
    start, target = float(row["V0"]), float(row["V_target"])
    seconds = discharge_time(farad, ohm, start, target)
    assert seconds == pytest.approx(float(row["time_s"]), abs=6e-5)
    assert volts_after(farad, ohm, start, seconds) == pytest.approx(target)


@pytest.mark.parametrize("row", CASES, ids=lambda row: row["id"])
def test_the_network_of_rails_agrees_for_one_capacitor(row: Row) -> None:
    one = rails({"A": float(row["C_F"])}, [], [("A", float(row["R_ohm"]))])
    seconds = time_below(one, np.array([float(row["V0"])]), float(row["V_target"]))
    assert seconds == pytest.approx(float(row["time_s"]), abs=6e-5)


def test_five_time_constants_leave_less_than_one_percent() -> None:
    # textbook rule, from memory: after 1 RC 36.8 % are left, after 5 RC 0.67 %
    assert volts_after(1e-6, 1e6, 100.0, 1.0) == pytest.approx(36.8, abs=0.05)
    assert volts_after(1e-6, 1e6, 100.0, 5.0) == pytest.approx(0.674, abs=0.001)
    assert discharge_time(1e-6, 1e6, 1.0, 0.5) == pytest.approx(log(2.0))  # half life 0.693 RC
    assert volts_after(1e-6, 1e6, 1.0, 2.0) == pytest.approx(exp(-2.0))


def test_a_hundred_microfarad_at_400_volts_holds_eight_joules() -> None:
    assert stored_energy(100e-6, 400.0) == pytest.approx(8.0)  # C·V²/2, any textbook


def test_the_peak_of_the_mains_is_the_start_of_the_published_plug_cases() -> None:
    starts = {row["id"]: float(row["V0"]) for row in CASES}
    assert unloaded_peak(230, "bridge", 230, 230) == pytest.approx(starts["d4"], abs=0.5)
    assert unloaded_peak(240, "bridge", 240, 240) == pytest.approx(starts["d5"], abs=0.5)


def test_075_volt_across_the_service_network_is_half_a_milliampere() -> None:
    # safety page of a display service manual (easymanua.ls manual id 465071): 0.75 V = 0.5 mA
    network = network_of(SHEET, "us")
    assert network is not None
    assert leakage(network, 0.75, 60.0) == pytest.approx(0.5e-3, rel=0.005)


def test_035_volt_across_it_is_the_stricter_limit_of_the_230_volt_version() -> None:
    # one service manual (manualarchiveguide.com manual id 3399288): 0.35 V, about 0.23 mA
    network = network_of(SHEET, "us")
    assert network is not None
    assert leakage(network, 0.35, 50.0) == pytest.approx(0.23e-3, abs=0.005e-3)


def test_035_volt_peak_at_u2_is_the_published_touch_current() -> None:
    # IEC 60065 9.1.1 as printed at https://www.user-manuals.com/hd-e1ke-p-836532.html:
    # U2 = 0.35 V peak is 0.7 mA peak, I = U2/500 ohm
    network = network_of(SHEET, "iec")
    assert network is not None
    assert leakage(network, 0.35, 50.0) == pytest.approx(0.7e-3)
    assert filter_share(network, 50.0) == pytest.approx(1.0, abs=0.003)


def test_the_touch_current_network_is_two_kilohm_at_the_mains() -> None:
    # IEC 60990: 1500 + 500 ohm at low frequency (1500 ohm from memory); 500 ohm at high
    network = network_of(SHEET, "iec")
    assert network is not None
    assert impedance(network, 0.0) == pytest.approx(2000.0)
    assert impedance(network, 50.0) == pytest.approx(2000.0, rel=0.01)
    assert impedance(network, 1e6) == pytest.approx(500.0, rel=0.01)


def test_the_touch_limit_in_rms_is_the_peak_over_root_two() -> None:
    (bound,) = bounds_for("leakage-normal", "iec", "II")
    assert bound.high == pytest.approx(0.7e-3 / sqrt(2), rel=0.001)


@pytest.mark.parametrize(
    ("metres", "ohm"),
    [
        (3, 0.3),
        (5, 0.3),
        (12.5, 0.4),
        (20, 0.5),
        (27.5, 0.6),
        (35, 0.7),
        (42.5, 0.8),
        (50, 0.9),
        (60, 1.0),
        (200, 1.0),
    ],
)
def test_the_earth_limit_grows_with_the_cord_as_published(metres: float, ohm: float) -> None:
    # https://manualsbrain.com/en/manuals/526744/?page=15 (limits by length of the cord)
    (row,) = [row for row in facts("safety", "cord_allowance") if row["id"] == "vde"]
    (bound,) = bounds_for("earth-bond", "vde", "I")
    assert bound.high is not None
    steps = [float(row[key]) for key in ("base_metre", "step_metre", "step_ohm", "most_ohm")]
    assert by_length(bound.high, metres, *steps) == pytest.approx(ohm)


@pytest.mark.parametrize(
    ("area", "milliohm"), [("0.5", 39.0), ("0.75", 26.0), ("1", 19.5), ("1.5", 13.3), ("2.5", 7.98)]
)
def test_a_metre_of_flexible_cord_has_the_published_resistance(area: str, milliohm: float) -> None:
    # IEC 60228 class 5: a second page, https://www.uecables.com/471-power-copper-conductors-according-to-iec-60228.html
    # (1 and above), beside the one the table cites
    (row,) = [row for row in facts("safety", "cord_areas") if row["id"] == area]
    assert cord_resistance(1.0, float(row["ohm_per_metre"])) == pytest.approx(milliohm * 1e-3)


@pytest.mark.parametrize(
    ("line", "practice", "applies", "low", "high"),
    [
        # chapter 15 of the UK code of practice, https://www.fslsecurity.com/pat-testing.html
        ("earth-bond", "iet", "I", None, 0.1),
        ("insulation", "iet", "I", 1e6, None),
        ("insulation", "iet", "II", 2e6, None),
        ("leakage-normal", "iet", "I", None, 3.5e-3),
        ("leakage-normal", "iet", "II", None, 0.25e-3),
        # table of limits of DIN VDE 0701-0702, https://de.scribd.com/document/621463142
        ("earth-bond", "vde", "I", None, 0.3),
        ("insulation", "vde", "I", 1e6, None),
        ("insulation", "vde", "II", 2e6, None),
        ("leakage-reversed", "vde", "I", None, 3.5e-3),
        ("leakage-reversed", "vde", "II", None, 0.5e-3),
        # ANSI C101-1992, two wires or three: https://www.mail-archive.com/emc-pstc@listserv.ieee.org/msg22768.html
        # (0.5 mA; 0.75 V across the network at 60 Hz is 0.502)
        ("leakage-normal", "us", "I", None, 5.02e-4),
        # IEC 60950, 'the general case': https://www.mail-archive.com/emc-pstc@listserv.ieee.org/msg25765.html
        ("leakage-normal", "iec", "I", None, 3.5e-3),
        # cold check of a service manual, 1 Mohm
        ("insulation", "us", "0", 1e6, None),
        # -6 % +10 % of 230 V; ±10 %; ±5 % of 120 V
        ("mains-volts", "iet", "", 216.2, 253.0),
        ("mains-volts", "iec", "", 207.0, 253.0),
        ("mains-volts", "us", "", 114.0, 126.0),
    ],
)
def test_a_limit_is_as_published(
    line: str, practice: str, applies: str, low: float | None, high: float | None
) -> None:
    (bound,) = bounds_for(line, practice, applies)
    assert (bound.low, bound.high, bound.confidence) == (low, high, "published")


def test_every_limit_says_where_it_is_from_and_what_was_seen() -> None:
    own = [limit for limit in limits() if limit.id in {r["id"] for r in _rows()}]
    assert len(own) == len(_rows()) > 50
    assert all(limit.bound.source for limit in own)
    published = [limit for limit in own if limit.bound.confidence == "published"]
    assert all("seen" in limit.note or "written for" in limit.note for limit in published)


def _rows() -> list[dict[str, str]]:
    text = files("endbell.bench").joinpath("data", "limits", "safety.csv").read_text("utf-8")
    return list(csv.DictReader(text.splitlines()))


def test_nothing_discharges_a_capacitor_without_a_resistor() -> None:
    assert discharge_time(47e-6, None, 450.0, 60.0) == inf
