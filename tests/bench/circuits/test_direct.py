"""Where the valves of a netlist settle."""

from __future__ import annotations

from pathlib import Path

import pytest

from endbell.bench.circuits.cards import NetlistError
from endbell.bench.circuits.direct import NotSettled, settled
from endbell.bench.circuits.netlist import parse
from endbell.bench.valves.models import model, small_signal
from endbell.bench.valves.operating_point import Wiring, settle

from ..valves.spice import needs_ngspice, nodes, valve_lines

STAGE = "VB b 0 300\nR1 b p 100k\nR2 k 0 1k5\nR3 g 0 1Meg\nX1 p g k 12AX7"


@pytest.mark.parametrize(("supply", "plate", "cathode"), [(300, 1e5, 1500), (180, 2.2e5, 2700)])
def test_a_stage_settles_where_its_load_line_crosses_its_curve(
    supply: float, plate: float, cathode: float
) -> None:
    found = settled(
        parse(f"VB b 0 {supply}\nR1 b p {plate}\nR2 k 0 {cathode}\nR3 g 0 1Meg\nX1 p g k 12AX7")
    )
    other = settle(model("12AX7").valve, Wiring(supply, plate, cathode))
    assert found.volts["p"] == pytest.approx(float(other.plate), rel=1e-7)
    assert found.volts["k"] == pytest.approx(float(other.cathode), rel=1e-7)


def test_its_small_signal_is_that_of_its_own_bias() -> None:
    found = settled(parse(STAGE))
    bias, slopes = found.bias["X1"], found.slopes["X1"]
    own = small_signal("12AX7", bias.plate, bias.grid)
    assert (slopes.gm, 1.0 / slopes.gp) == pytest.approx((own.gm, own.rp))


def test_a_pentode_on_its_transformer_settles_as_it_does_alone() -> None:
    found = settled(
        parse(
            "VB b 0 301\nVS s 0 296\nRw b w 350\nL1 w p 12\nX1 p s g k 6V6GT\nR1 g 0 220k\nR2 k 0 470"
        )
    )
    other = settle(
        model("6V6GT").valve,
        Wiring(301.0, load_ohm=350.0, cathode_ohm=470.0, screen_supply=296.0),
    )
    assert found.volts["p"] == pytest.approx(float(other.plate), rel=1e-7)
    assert found.bias["X1"].screen_amp == pytest.approx(float(other.screen_amp), rel=1e-6)


@needs_ngspice
def test_a_direct_coupled_pair_settles_as_in_ngspice(tmp_path: Path) -> None:
    parts = ["VB b 0 291", "R1 b p 100k", "R2 k 0 1500", "R3 g 0 1Meg", "R4 f 0 100k"]
    text = "\n".join([*parts, "X1 p g k 12AX7", "X2 b p f 12AX7"])
    valve = model("12AX7").valve
    deck = [*parts, valve_lines("x1", valve, "p", "g", "k", "")]
    deck.append(valve_lines("x2", valve, "b", "p", "f", ""))
    theirs = nodes(deck, ("p", "k", "f"), tmp_path)
    ours = settled(parse(text)).volts
    assert [ours[node] for node in ("p", "k", "f")] == pytest.approx(theirs, rel=1e-4)


def test_a_valve_without_its_rail_is_told_what_it_lacks() -> None:
    with pytest.raises(NotSettled, match=r"X1 \(12AX7\) does not conduct.*is its rail drawn"):
        settled(parse("R1 b p 100k\nR4 b 0 1k\nR2 k 0 1k5\nR3 g 0 1Meg\nX1 p g k 12AX7"))


def test_figures_on_the_card_are_taken_at_their_word() -> None:
    for given in ("mu=100 rp=62.5k", "gm=1.6m rp=62.5k", "mu=100 gm=1.6m"):
        slopes = settled(parse(f"X1 p g 0 none {given}\nR1 p 0 100k\nR2 g 0 1Meg")).slopes["X1"]
        assert (slopes.gm, slopes.gp) == pytest.approx((1.6e-3, 1.6e-5))


def test_voltages_on_the_card_are_taken_at_their_word() -> None:
    slopes = settled(parse("X1 p g 0 ECC83 vp=250 vg=-2\nR1 p 0 1k\nR2 g 0 1k")).slopes["X1"]
    assert slopes.gm == pytest.approx(small_signal("ECC83", 250.0, -2.0).gm)
    with pytest.raises(NetlistError, match="does not conduct at the voltages on its card"):
        settled(parse("X1 p g 0 ECC83 vp=100 vg=-20\nR1 p 0 1k\nR2 g 0 1k"))


def test_coils_in_parallel_have_no_dc_answer() -> None:
    with pytest.raises(NetlistError, match="L2 closes a loop of voltage sources and coils"):
        settled(parse(f"{STAGE}\nL1 k 0 1\nL2 k 0 1"))


def test_another_parameter_set_settles_elsewhere() -> None:
    usual, first = settled(parse(STAGE)), settled(parse(f"{STAGE} set=koren-1996"))
    assert abs(usual.volts["p"] - first.volts["p"]) > 1.0
