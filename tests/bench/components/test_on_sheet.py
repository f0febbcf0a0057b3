"""What a sheet says of its parts, and the laws of pots."""

from __future__ import annotations

from math import inf, nan, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.bench.circuit import Resistor
from endbell.bench.components import lines
from endbell.bench.components.limits_of_parts import (
    drift,
    electrolytic_leakage,
    esr_at_most,
    reforming_ohm,
)
from endbell.bench.components.pots import law_of, rises, share_at
from endbell.bench.kinds import line_kinds, line_subjects
from endbell.bench.lines import Judgement, Line

from ..amps import bench, changed, read, the


def told(line: str, value: float, at: str) -> Line:
    return the(lines(bench(read(1, line, value, at))), line, at)


def test_an_empty_sheet_asks_for_what_the_circuit_names() -> None:
    found = lines(bench())
    assert all(line.judgement is Judgement.NOT_MEASURED and line.says for line in found)
    asked = {(line.id, line.at) for line in found}
    assert {
        ("resistor-ohm", "R2"),
        ("capacitor-esr", "elco-1"),
        ("capacitor-leakage", "cap-2"),
    } <= asked
    assert {("pot-ohm", "pot-1"), ("pot-taper", "pot-1"), ("pot-noise", "pot-1")} <= asked
    assert ("resistor-ohm", "pot-1") not in asked and ("capacitor-esr", "cap-2") not in asked


# ---- resistors


@pytest.mark.parametrize(
    ("ohm", "judgement", "words"),
    [
        (104e3, Judgement.WITHIN, "+4.0 %"),
        (115e3, Judgement.HIGH, "Carbon composition drifts upwards"),
        (160e3, Judgement.HIGH, "replace it"),
        (60e3, Judgement.LOW, "in parallel"),
    ],
)
def test_a_resistor_is_held_to_its_tolerance(ohm: float, judgement: Judgement, words: str) -> None:
    line = told("resistor-ohm", ohm, "R2")
    assert line.judgement is judgement and words in line.says


def test_a_resistor_that_is_not_drawn_is_only_told() -> None:
    assert told("resistor-ohm", 5.0, "R9").judgement is Judgement.NO_LIMIT


@given(st.floats(1.0, 1e7), st.floats(-0.9, 5.0))
def test_drift_is_what_was_added(nominal: float, off: float) -> None:
    assert drift(nominal * (1 + off), nominal) == pytest.approx(off, abs=1e-9)


# ---- capacitors


def test_a_dried_out_filter_capacitor_is_low_and_resists() -> None:
    low = told("capacitor-farad", 9e-6, "elco-1")
    assert low.judgement is Judgement.LOW and "dried out" in low.says
    most = 0.3 / (2 * pi * 120 * 20e-6)
    assert told("capacitor-esr", most * 0.9, "elco-1").judgement is Judgement.WITHIN
    assert told("capacitor-esr", most * 1.1, "elco-1").judgement is Judgement.HIGH


def test_a_coupling_capacitor_that_reads_high_is_leaky() -> None:
    assert "leaky one" in told("capacitor-farad", 40e-9, "cap-2").says
    assert told("capacitor-leakage", 5e-6, "cap-2").judgement is Judgement.HIGH
    assert told("capacitor-leakage", 0.1e-6, "cap-2").judgement is Judgement.WITHIN


def test_an_electrolytic_may_leak_by_its_size_and_voltage() -> None:
    assert told("capacitor-leakage", 1.0e-3, "elco-2").judgement is Judgement.WITHIN
    high = told("capacitor-leakage", 2.0e-3, "elco-2")
    assert high.judgement is Judgement.HIGH and "Reform" in high.says
    above = told("capacitor-leakage", 1.0e-3, "elco-1")  # 600 V: the old rule ends at 500
    assert above.judgement is Judgement.NO_LIMIT
    assert electrolytic_leakage(20e-6, 600.0) is None


def test_limits_refuse_what_cannot_be() -> None:
    for call in (
        lambda: esr_at_most(-1e-6, 0.3, 120.0),
        lambda: esr_at_most(1e-6, 0.3, 0.0),
        lambda: electrolytic_leakage(nan, 100.0),
        lambda: drift(1.0, 0.0),
        lambda: drift(-1.0, 1.0),
    ):
        with pytest.raises(ValueError, match="needed"):
            call()
    assert reforming_ohm(450.0, 5e-3) == pytest.approx(90e3)
    assert reforming_ohm(450.0, 0.0) == inf


# ---- pots


@given(
    st.sampled_from(["linear", "log-10", "log-20", "reverse-log-10"]),
    st.lists(st.floats(0.1, 0.9), min_size=3, max_size=7, unique=True),
    st.floats(-0.005, 0.005),
)
def test_a_pot_that_follows_a_law_is_found_to(taper: str, turns: list[float], off: float) -> None:
    points = {at: share_at(taper, at) + off for at in turns}
    found = law_of(points)
    assert found.off <= 0.006
    if all(abs(at - 0.5) < 0.35 for at in turns):
        assert found.family == taper.rsplit("-", 1)[0].replace("-", " ")


@given(st.lists(st.floats(0.05, 0.95), min_size=1, max_size=5, unique=True))
def test_a_log_pot_from_the_wrong_lug_is_a_reverse_one(turns: list[float]) -> None:
    mirrored = {1 - at: 1 - share_at("log-10", at) for at in turns}
    assert law_of(mirrored).family in ("reverse log", "linear")
    assert law_of({0.5: 0.9}).family == "reverse log"


@pytest.mark.parametrize("points", [{}, {0.0: 0.0, 1.0: 1.0}, {0.5: 1.5}, {0.5: -0.5}, {0.5: nan}])
def test_readings_that_tell_no_law_are_refused(points: dict[float, float]) -> None:
    with pytest.raises(ValueError, match=r"needed|cannot be"):
        law_of(points)


def taper(*readings: tuple[str, float], use: str = "pot log") -> Line:
    circuit = changed(resistors=(Resistor("pot-1", 1e6, 0.2, use=use),))
    taken = [read(n, "pot-taper", value, at) for n, (at, value) in enumerate(readings, 1)]
    return the(lines(bench(*taken, circuit=circuit)), "pot-taper", "pot-1")


def test_a_log_pot_where_one_is_drawn() -> None:
    line = taper(("pot-1@25", 0.05), ("pot-1@50", 0.11), ("pot-1@75", 0.54))
    assert line.judgement is Judgement.WITHIN
    assert line.value == 0.11 and line.readings == (1, 2, 3)


def test_a_linear_pot_where_a_log_one_is_drawn_is_off() -> None:
    assert taper(("pot-1@50", 0.5)).judgement is Judgement.ODD
    assert "right lug" in taper(("pot-1@50", 0.9)).says
    assert taper(("pot-1", 0.5), use="pot").judgement is Judgement.NO_LIMIT


def test_a_track_that_falls_back_is_worn() -> None:
    line = taper(("pot-1@25", 0.3), ("pot-1@50", 0.1), ("pot-1@75", 0.6))
    assert line.judgement is Judgement.ODD and "worn" in line.says
    assert not rises({0.25: 0.3, 0.5: 0.1})


def test_a_rotation_that_is_none_is_told() -> None:
    for place in ("pot-1@half", "pot-1@150"):
        line = taper((place, 0.5))
        assert line.judgement is Judgement.IMPOSSIBLE and "pot-1@50" in line.says
    assert taper(("pot-1@0", 0.0)).judgement is Judgement.IMPOSSIBLE  # an end tells nothing


def test_pots_track_and_noise() -> None:
    assert told("pot-ohm", 0.9e6, "pot-1").judgement is Judgement.WITHIN
    assert told("pot-ohm", 1.4e6, "pot-1").judgement is Judgement.HIGH
    assert told("pot-noise", 0.2, "pot-1").judgement is Judgement.HIGH
    assert told("pot-noise", 0.01, "pot-9").judgement is Judgement.WITHIN


@pytest.mark.parametrize("value", [nan, inf, -1.0, 1e30])
def test_what_cannot_be_is_told_in_a_sentence(value: float) -> None:
    for line in [k for k, subject in line_subjects().items() if subject == "components"]:
        at = {"resistor": "R2", "pot": "pot-1"}.get(line_kinds()[line].per, "elco-1")
        one = told(line, value, at)
        assert one.judgement is Judgement.IMPOSSIBLE, line
        assert one.says.endswith(".") and (one.value is None or one.value == value)
