"""Netlists as people write them, and what is said of those that can't be used."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from endbell.bench.circuits.cards import NetlistError
from endbell.bench.circuits.mna import SingularCircuit, impedance, solve, transfer
from endbell.bench.circuits.netlist import parse, turned
from endbell.bench.circuits.response import stage
from endbell.bench.circuits.values import EXAMPLES, figure
from endbell.dossier.values import Fault


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("100k", "ohm", 1e5),
        ("100K", "ohm", 1e5),
        ("4k7", "ohm", 4700.0),
        ("8R2", "ohm", 8.2),
        ("1M", "ohm", 1e6),
        ("1M5", "ohm", 1.5e6),
        ("2.2Meg", "ohm", 2.2e6),
        ("2.2MEG", "ohm", 2.2e6),
        ("470", "ohm", 470.0),
        ("100kohm", "ohm", 1e5),
        ("1 kΩ", "ohm", 1e3),
        ("22n", "F", 22e-9),
        ("0.022u", "F", 22e-9),
        ("22 nF", "F", 22e-9),
        ("250pF", "F", 250e-12),
        ("4µ7", "F", 4.7e-6),
        ("350m", "H", 0.35),
        ("12H", "H", 12.0),
        ("-38", "V", -38.0),
        ("1.6m", "S", 1.6e-3),
        ("0.998", "1", 0.998),
        ("20%", "1", 0.2),
        ("1k", "Hz", 1000.0),
        ("1e3", "Hz", 1000.0),
    ],
)
def test_a_value_is_read_as_it_is_written_on_a_drawing(text: str, unit: str, value: float) -> None:
    assert figure(text, unit) == pytest.approx(value, rel=1e-15)


def test_a_value_by_tens_is_exact() -> None:
    assert figure("22n", "F") == 22e-9
    assert figure("470p", "F") == 470e-12


@pytest.mark.parametrize(
    ("text", "unit", "found", "accepted"),
    [
        ("1m", "ohm", "1 milliohm or 1 megohm", "1Meg"),
        ("20M", "F", "20 millifarad or, as on old parts, 20 microfarad", "20u"),
        ("50m", "F", "50 millifarad", "50u"),
        ("3M", "H", "3 mega or, as SPICE reads it, 3 milli", "3e-3"),
    ],
)
def test_a_letter_that_means_two_things_is_asked_about(
    text: str, unit: str, found: str, accepted: str
) -> None:
    said = figure(text, unit)
    assert isinstance(said, Fault)
    assert found in said.found
    assert accepted in said.accepted


@pytest.mark.parametrize("text", ["", "k", "1x", "1..2k", "4k7k", "1e999", "nan", "1,000,000", "١"])
def test_what_is_no_value_is_refused(text: str) -> None:
    assert isinstance(figure(text, "ohm"), Fault)


@given(st.text(max_size=30), st.sampled_from(sorted(EXAMPLES)))
@settings(max_examples=200, deadline=None)
def test_no_text_breaks_the_reader_of_values(text: str, unit: str) -> None:
    found = figure(text, unit)
    assert isinstance(found, Fault) or np.isfinite(found)


def test_comments_case_and_long_lines() -> None:
    read = parse("* a divider\nR1 IN out 10k ; above\n\nr2 OUT GND\n+ 10K # below\n.END\nrubbish")
    assert read.nodes == ("in", "out")
    assert [part.value for part in read.parts] == [1e4, 1e4]


@pytest.mark.parametrize(
    ("text", "line", "found", "accepted"),
    [
        ("", 0, "no card", "R, C, L, K, V, I, E, G, P"),
        ("R1 a b 1k", 0, "nothing is at the ground", "0 or gnd"),
        ("\nQ1 a b c BC107", 2, 'no card begins "Q1"', "X (valve)"),
        ("R1 a 0 10kk", 1, '"kk" is no suffix', "100k"),
        ("R1 a 0", 1, '"R1 a 0"', "R1 node node 100k"),
        ("R1 a 0 1k 2k", 1, "R1 a 0 1k 2k", "R1 node node 100k"),
        ("R1 a 0 0", 1, "R1 of 0", "above 0"),
        ("R1 a 0 -5", 1, "R1 of -5", "above 0"),
        ("R1 a A 1k", 1, "both ends at the node a", "two nodes"),
        ("R1 a 0 1k\nr1 a 0 1k", 2, "a second R1 (the first is on line 1)", "once"),
        ("C1 a 0 20M", 1, "microfarad", "20u"),
        ("R1 a 0 1k\nK1 L1 L2 0.9", 2, "couples L1, which is no inductor", "L cards"),
        ("L1 a 0 1\nL2 b 0 1\nK1 L1 L2 1", 3, "a coupling factor of 1", "below 1"),
        ("L1 a 0 1\nL2 b 0 1\nK1 L1 L2 98", 3, "a coupling factor of 98", "below 1"),
        ("P1 a b 0 1Meg law=lgo", 1, 'no law "lgo"', "log-10"),
        ("P1 a b 0 1Meg at=1.5", 1, "at 1.5", "rotation from 0 to 1"),
        ("P1 a b 0 1Meg law=log turn=5", 1, '"turn="', "law=, at="),
        ("X1 a g 0 12AX8", 1, "no model for a valve '12AX8'", "mu= and rp="),
        ("X1 a g 0 6V6GT", 1, "6V6GT with three nodes", "screen"),
        ("X1 a s g 0 12AX7", 1, "12AX7, a triode, with four nodes", "X1 plate grid cathode"),
        ("X1 a g 0 12AX7 mu=100", 1, "mu alone", "two of mu, rp and gm"),
        ("X1 a g 0 12AX7 vp=200", 1, "vp", "vg, vp together"),
        (".ac dec 10 1 1k", 1, ".ac", ".end"),
        ("+ 5", 1, "no line before it", "R, C"),
        ("V1 a 0 DC", 1, "DC without a value", "AC 1"),
        ("V1 a 0 5 SIN 1", 1, "SIN 1", "AC 1"),
    ],
)
def test_a_card_that_cannot_be_used_names_its_line_and_what_would_do(
    text: str, line: int, found: str, accepted: str
) -> None:
    with pytest.raises(NetlistError) as caught:
        parse(text)
    error = caught.value
    assert error.line == line
    assert found in error.found
    assert accepted in error.accepted
    assert str(error).startswith(f"netlist line {line}: " if line else "netlist: ")


def test_the_nearest_name_is_offered() -> None:
    with pytest.raises(NetlistError, match="did you mean reverse-log-10"):
        parse("P1 a b 0 1Meg law=reverse-log-1")
    with pytest.raises(NetlistError, match="did you mean plate"):
        stage("R1 grid plate 1k\nR2 plate 0 1k", "grid", "plat")


def test_a_floating_node_is_named() -> None:
    with pytest.raises(NetlistError, match=r'the node "s" .*floats') as caught:
        solve(parse("V1 p 0 AC 1\nL1 p 0 1\nL2 s t 1\nK1 L1 L2 0.9\nR1 s t 8"), [50.0])
    assert caught.value.line == 3
    assert "one end of a winding at 0" in caught.value.accepted


def test_a_grid_that_hangs_in_the_air_is_named() -> None:
    with pytest.raises(NetlistError, match='the node "g" floats'):
        impedance(parse("R1 p 0 100k\nX1 p g 0 12AX7 mu=100 rp=60k"), "p", [1000.0])


def test_two_sources_that_fight_are_named() -> None:
    with pytest.raises(NetlistError, match="V2 closes a loop of voltage sources"):
        solve(parse("V1 a 0 AC 1\nV2 a 0 AC 2\nR1 a 0 1k"), [50.0])


def test_equations_without_an_answer_name_what_is_open() -> None:
    # an amplifier of exactly 1 that drives its own input: any voltage would do
    with pytest.raises(SingularCircuit, match="open"):
        solve(parse("R1 a 0 1k\nG1 a 0 0 a 1m\nI1 0 a AC 1"), [50.0])


def test_couplings_that_cannot_be_at_once_are_refused() -> None:
    text = "L1 a 0 1\nL2 b 0 1\nL3 c 0 1\nK1 L1 L2 0.99\nK2 L2 L3 0.99\nK3 L1 L3 0.1\nR1 a 0 1"
    with pytest.raises(NetlistError, match="less than no energy"):
        impedance(parse(text), "a", [50.0])


def test_a_pot_that_is_not_there_cannot_be_turned() -> None:
    read = parse("P1 in out 0 1Meg law=log-10\nR1 in 0 1k")
    with pytest.raises(NetlistError, match="no pot P2"):
        turned(read, {"p2": 0.5})
    with pytest.raises(NetlistError, match="rotation from 0 to 1"):
        turned(read, {"p1": 11.0})


@pytest.mark.parametrize(
    ("law", "at", "share"),
    [
        ("linear", 0.5, 0.5),
        ("log-10", 0.5, 0.1),
        ("reverse-log-10", 0.5, 0.9),
        ("log-10", 1.0, 1.0),
    ],
)
def test_a_volume_pot_passes_what_its_law_says(law: str, at: float, share: float) -> None:
    gain = transfer(parse(f"P1 in out 0 1Meg law={law} at={at}"), "in", "out", [1000.0])
    assert gain[0] == pytest.approx(share, abs=1e-5)


def test_a_volume_pot_at_nought_closes_the_signal_off() -> None:
    of = stage("P1 in out 0 1Meg law=log", "in", "out", {"P1": 0.0})
    assert of.gain_db(1000.0) < -100.0


@given(st.text("RCLKVIEGPX01 abk.=+-*;\nmun", max_size=80))
@settings(max_examples=200, deadline=None)
def test_no_text_breaks_the_reader(text: str) -> None:
    try:
        read = parse(text)
    except NetlistError as error:
        assert error.accepted
    else:
        assert read.nodes or read.parts or read.pots


def test_a_netlist_as_large_as_a_book_is_refused() -> None:
    with pytest.raises(NetlistError, match="characters"):
        parse("R1 a 0 1k\n" * 10_000)
    with pytest.raises(NetlistError, match="one stage of an amp"):
        parse("\n".join(f"R{n} a 0 1k" for n in range(500)))
