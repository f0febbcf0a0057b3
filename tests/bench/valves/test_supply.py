"""From the winding to the rails, held against the textbook and against a transient analysis."""

from __future__ import annotations

import re
from math import pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.bench.valves.models import UnknownValve
from endbell.bench.valves.rectifier import Rectifier, rectifier
from endbell.bench.valves.supply import (
    NoSupply,
    Section,
    Winding,
    capacitor_input,
    choke_input,
    critical_amp,
    source_ohm,
    textbook_ripple,
)

from .amps import steady
from .spice import needs_ngspice, run

CASES = [
    ("GZ34", Winding(300.0, 100.0, 50.0), 40e-6, 0.15),
    ("5Y3GT", Winding(330.0, 150.0, 60.0), 20e-6, 0.1),
    ("5U4GB", Winding(360.0, 80.0, 60.0), 40e-6, 0.18),
    ("EZ81", Winding(275.0, 200.0, 50.0), 50e-6, 0.1),
    ("6X4", Winding(250.0, 300.0, 60.0), 16e-6, 0.05),
    ("GZ34", Winding(300.0, 120.0, 50.0, "half-wave"), 60e-6, 0.05),
]
SECTION = Section(1500.0, 20e-6, 0.02)


@needs_ngspice
@pytest.mark.parametrize(("kind", "winding", "farad", "amp"), CASES)
def test_a_supply_agrees_with_a_transient_analysis(
    kind: str, winding: Winding, farad: float, amp: float, tmp_path: Path
) -> None:
    valve = rectifier(kind)
    assert valve.perveance is not None
    ours = capacitor_input(winding, valve, farad, amp, [SECTION])
    paths = (1, -1) if winding.kind == "full-wave" else (1,)
    deck = "supply\n"
    for n, sign in enumerate(paths):
        deck += f"V{n} a{n} 0 SIN(0 {sign * winding.peak} {winding.hz})\n"
        deck += f"R{n} a{n} b{n} {winding.ohm}\n"
        deck += f"B{n} b{n} out I={valve.perveance}*uramp(V(b{n},out))^1.5\n"
    start, stop = 60.0 / winding.hz, 66.0 / winding.hz
    deck += (
        f"C1 out 0 {farad} IC={ours.rails[0].volts}\nI1 out 0 {amp}\n"
        f"R9 out two {SECTION.ohm}\nC2 two 0 {SECTION.farad} IC={ours.rails[1].volts}\n"
        f"I2 two 0 {SECTION.amp}\n.options reltol=1e-5\n"
        f".tran {0.0005 / winding.hz} {stop} {start} {0.001 / winding.hz} UIC\n.control\nrun\n"
    )
    for what, node in (("avg", "out"), ("rms", "out"), ("avg", "two"), ("pp", "two")):
        deck += f"meas tran {what}{node} {what} v({node}) from={start} to={stop}\n"
    out = run(deck + "quit\n.endc\n.end\n", tmp_path)
    found = {k: float(v) for k, v in re.findall(r"^(\w+)\s+=\s+(\S+)", out, re.MULTILINE)}
    assert ours.rails[0].volts == pytest.approx(found["avgout"], rel=2e-3)
    assert ours.rails[1].volts == pytest.approx(found["avgtwo"], rel=2e-3)
    ripple = sqrt(found["rmsout"] ** 2 - found["avgout"] ** 2)
    assert ours.rails[0].ripple == pytest.approx(ripple, rel=0.03)
    assert ours.rails[1].ripple_peak == pytest.approx(found["pptwo"], rel=0.05)


def test_with_little_resistance_the_ripple_is_the_textbooks() -> None:
    stiff = Winding(300.0, 1.0, 50.0, "bridge")
    for amp in (0.02, 0.05, 0.1):
        ours = capacitor_input(stiff, rectifier("silicon"), 100e-6, amp)
        # the reservoir is charged again a little before the line reaches the next peak
        assert ours.rails[0].ripple == pytest.approx(textbook_ripple(amp, 100e-6, 100.0), rel=0.15)
        assert ours.rails[0].ripple < textbook_ripple(amp, 100e-6, 100.0)


def test_without_load_the_reservoir_stands_at_the_peak() -> None:
    for kind in ("full-wave", "bridge", "half-wave"):
        free = capacitor_input(Winding(300.0, 50.0, 50.0, kind), rectifier("GZ34"), 40e-6, 1e-5)
        assert free.rails[0].volts == pytest.approx(300.0 * sqrt(2.0), rel=5e-3)
    double = capacitor_input(
        Winding(150.0, 20.0, 50.0, "doubler"), rectifier("silicon"), 100e-6, 1e-5
    )
    assert double.rails[0].volts == pytest.approx(2.0 * 150.0 * sqrt(2.0), rel=1e-2)
    assert double.turn_hz == 100.0


@steady()
@given(st.floats(0.01, 0.2), st.floats(1.05, 2.0))
def test_more_load_means_fewer_volts_and_more_ripple(amp: float, times: float) -> None:
    winding = Winding(320.0, 120.0, 50.0)
    light, heavy = (
        capacitor_input(winding, rectifier("GZ34"), 47e-6, a).rails[0] for a in (amp, amp * times)
    )
    assert heavy.volts < light.volts
    assert heavy.ripple > light.ripple


@steady()
@given(st.floats(1.1, 4.0))
def test_a_rectifier_that_drops_more_gives_fewer_volts(times: float) -> None:
    winding = Winding(320.0, 120.0, 50.0)
    good = Rectifier("one", 1e-3)
    worn = Rectifier("other", 1e-3 / times)
    assert (
        capacitor_input(winding, worn, 40e-6, 0.1).rails[0].volts
        < capacitor_input(winding, good, 40e-6, 0.1).rails[0].volts
    )


def test_the_charge_that_goes_in_is_the_charge_that_is_drawn() -> None:
    winding = Winding(320.0, 120.0, 50.0)
    at = capacitor_input(winding, rectifier("GZ34"), 47e-6, 0.0, load_ohm=4000.0)
    drawn = at.rails[0].volts / 4000.0
    constant = capacitor_input(winding, rectifier("GZ34"), 47e-6, drawn)
    assert constant.rails[0].volts == pytest.approx(at.rails[0].volts, rel=1e-3)


def test_a_choke_input_supply_gives_the_average_of_the_sine() -> None:
    ideal = Winding(400.0, 1e-6, 60.0)
    at = choke_input(ideal, Rectifier("no drop", None, 0.0), 10.0, 0.0, 20e-6, 0.15)
    assert at.rails[0].volts == pytest.approx(0.9003 * 400.0, rel=1e-4)
    turn = 4.0 * pi * 60.0
    factor = sqrt(2.0) / 3.0 / (turn**2 * 10.0 * 20e-6)
    assert at.rails[0].ripple / at.rails[0].volts == pytest.approx(factor, rel=0.02)


def test_below_its_critical_current_a_choke_lets_go_and_that_is_said() -> None:
    winding = Winding(400.0, 100.0, 60.0)
    # the rule of thumb: critical henries are the load in ohm over 1130 at 60 Hz
    amp = critical_amp(winding, 10.0)
    assert (2.0 * winding.peak / pi / amp) / 10.0 == pytest.approx(1131.0, rel=1e-3)
    with pytest.raises(NoSupply, match="bleeder"):
        choke_input(winding, rectifier("5U4GB"), 10.0, 100.0, 20e-6, 0.5 * amp)


def test_the_primary_is_seen_through_the_square_of_the_ratio() -> None:
    assert source_ohm(50.0, 4.0, 300.0 / 120.0) == pytest.approx(75.0)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: capacitor_input(Winding(300, 0, 50), rectifier("GZ34"), 4e-5, 0.1), "resistance"),
        (
            lambda: capacitor_input(Winding(300, 50, 50), rectifier("GZ34"), 4e-5, -0.1),
            "cannot draw",
        ),
        (lambda: capacitor_input(Winding(-3, 50, 50), rectifier("GZ34"), 4e-5, 0.1), "winding"),
        (lambda: capacitor_input(Winding(30, 500, 50), rectifier("5Y3"), 1e-6, 0.5), "empty"),
        (lambda: capacitor_input(Winding(30, 50, 50, "x"), rectifier("5Y3"), 1e-6, 0.1), "'x'"),
    ],
)
def test_a_supply_that_cannot_be_is_refused_in_a_sentence(call: object, word: str) -> None:
    assert callable(call)
    with pytest.raises(NoSupply, match=word):
        call()


def test_an_unknown_rectifier_is_refused_with_those_that_are_known() -> None:
    with pytest.raises(UnknownValve, match="GZ34"):
        rectifier("QQ99")


def test_current_through_valve_and_winding_is_the_law_solved() -> None:
    valve = rectifier("5Y3GT")
    volts = np.linspace(0.0, 200.0, 50)
    amp, slope = valve.through(volts, 150.0)
    across = volts - 150.0 * amp
    assert valve.perveance is not None
    np.testing.assert_allclose(amp, valve.perveance * across**1.5, rtol=1e-6, atol=1e-12)
    np.testing.assert_allclose(slope[5:-1], np.gradient(amp, volts)[5:-1], rtol=0.05)


@needs_ngspice
@pytest.mark.parametrize("kind", ["bridge", "doubler"])
def test_a_silicon_supply_agrees_with_a_transient_analysis(kind: str, tmp_path: Path) -> None:
    winding, farad, amp = (
        Winding(150.0 if kind == "doubler" else 300.0, 60.0, 50.0, kind),
        1e-4,
        0.1,
    )
    ours = capacitor_input(winding, rectifier("silicon"), farad, amp)
    diode = ".model D D(IS=1e-9 N=1.8 RS=0.05)\n"
    deck = f"silicon\nV1 a b SIN(0 {winding.peak} 50)\nR1 a c {winding.ohm}\n{diode}"
    each = ours.rails[0].volts / 2.0
    if kind == "bridge":
        deck += "D1 c out D\nD2 b out D\nD3 0 c D\nD4 0 b D\nR9 b 0 1e7\n"
        deck += f"C1 out 0 {farad} IC={ours.rails[0].volts}\n"
    else:
        deck += f"D1 c out D\nD2 0 c D\nC1 out b {farad} IC={each}\nC2 b 0 {farad} IC={each}\n"
    deck += (
        f"I1 out 0 {amp}\n.options reltol=1e-5\n.tran 1e-5 0.92 0.80 2e-5 UIC\n.control\nrun\n"
        "meas tran avg avg v(out) from=0.80 to=0.92\nmeas tran rms rms v(out) from=0.80 to=0.92\n"
    )
    out = run(deck + "quit\n.endc\n.end\n", tmp_path)
    found = {k: float(v) for k, v in re.findall(r"^(\w+)\s+=\s+(\S+)", out, re.MULTILINE)}
    assert ours.rails[0].volts == pytest.approx(found["avg"], rel=5e-3)
    ripple = sqrt(found["rms"] ** 2 - found["avg"] ** 2)
    assert ours.rails[0].ripple == pytest.approx(ripple, rel=0.04)


@needs_ngspice
def test_a_choke_input_supply_agrees_with_a_transient_analysis(tmp_path: Path) -> None:
    winding, valve = Winding(400.0, 80.0, 60.0), rectifier("5U4GB")
    ours = choke_input(winding, valve, 10.0, 100.0, 20e-6, 0.15)
    deck = "choke\n"
    for n, sign in enumerate((1, -1)):
        deck += f"V{n} a{n} 0 SIN(0 {sign * winding.peak} 60)\nR{n} a{n} b{n} {winding.ohm}\n"
        deck += f"B{n} b{n} in I={valve.perveance}*uramp(V(b{n},in))^1.5\n"
    deck += (
        f"R7 in x 100\nL1 x out 10 IC=0.15\nC1 out 0 20e-6 IC={ours.rails[0].volts}\nI1 out 0 0.15\n"
        "R8 in 0 1e7\n.options reltol=1e-5\n.tran 1e-5 2.1 2.0 2e-5 UIC\n.control\nrun\n"
        "meas tran avg avg v(out) from=2.0 to=2.1\nmeas tran rms rms v(out) from=2.0 to=2.1\n"
    )
    out = run(deck + "quit\n.endc\n.end\n", tmp_path)
    found = {k: float(v) for k, v in re.findall(r"^(\w+)\s+=\s+(\S+)", out, re.MULTILINE)}
    assert ours.rails[0].volts == pytest.approx(found["avg"], rel=0.01)
    ripple = sqrt(max(found["rms"] ** 2 - found["avg"] ** 2, 0.0))
    assert ours.rails[0].ripple == pytest.approx(ripple, rel=0.10)
