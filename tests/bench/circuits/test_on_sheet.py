"""Lines of the stages on a sheet."""

from __future__ import annotations

from dataclasses import replace

import pytest

from endbell.bench.circuit import Circuit, StageDrawing
from endbell.bench.circuits.cards import NetlistError
from endbell.bench.circuits.find import find_circuit
from endbell.bench.circuits.on_sheet import lines
from endbell.bench.circuits.response import of_drawing
from endbell.bench.circuits.stage_plot import stage_plot
from endbell.bench.kinds import line_kinds
from endbell.bench.lines import Judgement, Line
from endbell.bench.readings import Bench, Reading

LANTERN = find_circuit("brackwater", "lantern-20")


def told(
    *readings: tuple[str, str, float], circuit: Circuit = LANTERN
) -> dict[tuple[str, str], Line]:
    taken = tuple(
        Reading(n, line, at, f"{value}", value)
        for n, (line, at, value) in enumerate(readings, start=1)
    )
    found = lines(Bench(circuit, taken, line_kinds()))
    return {(line.id, line.at): line for line in found}


def drawing(name: str) -> StageDrawing:
    return next(stage for stage in LANTERN.stages if stage.id == name)


@pytest.mark.parametrize("model", ["lantern-20", "lantern-20-reverb", "beacon-45", "wick-6"])
def test_every_stage_asks_for_its_gain_with_what_to_put_in_and_expect(model: str) -> None:
    circuit = find_circuit("brackwater", model)
    found = told(circuit=circuit)
    for stage in circuit.stages:
        line = found["stage-gain", stage.id]
        assert line.judgement is Judgement.NOT_MEASURED
        assert stage.gain_db is not None
        assert line.expected == stage.gain_db
        assert f"node {stage.source_node}" in line.says
        assert f"{stage.gain_db:.1f} dB" in line.says
        assert found["stage-response", stage.id].judgement is Judgement.NOT_MEASURED


@pytest.mark.parametrize("model", ["lantern-20", "lantern-20-reverb", "beacon-45", "wick-6"])
def test_a_stage_that_gives_what_is_drawn_is_within(model: str) -> None:
    circuit = find_circuit("brackwater", model)
    readings: list[tuple[str, str, float]] = []
    for stage in circuit.stages:
        of = of_drawing(stage)
        readings += [
            ("stage-gain", f"{stage.id}@{hz}", of.gain_db(hz)) for hz in (50.0, 1000.0, 8000.0)
        ]
    found = told(*readings, circuit=circuit)
    assert {line.judgement for line in found.values()} == {Judgement.WITHIN}
    assert all(abs(line.value or 0.0) < 1e-6 for (i, _), line in found.items() if "resp" in i)


def test_a_gain_follows_from_two_voltages() -> None:
    line = told(("stage-input-volts", "driver", 0.020), ("stage-output-volts", "driver", 1.125))[
        "stage-gain", "driver"
    ]
    assert line.value == pytest.approx(35.0, abs=0.01)
    assert line.judgement is Judgement.WITHIN
    assert line.readings == (1, 2)
    assert "20 log10" in line.works


def test_a_gain_read_as_such_comes_before_one_from_voltages() -> None:
    line = told(
        ("stage-input-volts", "driver", 0.02),
        ("stage-output-volts", "driver", 0.02),
        ("stage-gain", "driver", 35.0),
    )["stage-gain", "driver"]
    assert line.value == 35.0


def test_a_stage_whose_bypass_capacitor_is_open_has_too_little_gain() -> None:
    opened = replace(
        drawing("driver"), netlist=drawing("driver").netlist.replace("C5   k   0   25u\n", "")
    )
    gain = of_drawing(opened).gain_db(1000.0)
    line = told(("stage-gain", "driver", gain))["stage-gain", "driver"]
    assert line.judgement is Judgement.LOW
    assert "too low" in line.says


def test_a_worn_coupling_capacitor_shows_at_the_low_end_alone() -> None:
    worn = replace(drawing("inverter"), netlist=drawing("inverter").netlist.replace("100n", "500p"))
    of = of_drawing(worn)
    readings = [("stage-gain", f"inverter@{hz:g}", of.gain_db(hz)) for hz in (60, 300, 1e3, 5e3)]
    line = told(*readings)["stage-response", "inverter"]
    assert line.judgement is Judgement.LOW
    assert "at 60 Hz" in line.says
    assert "a coupling or bypass capacitor" in line.says


def test_the_level_alone_is_no_matter_of_the_response() -> None:
    of = of_drawing(drawing("driver"))
    readings = [("stage-gain", f"driver@{hz:g}", of.gain_db(hz) - 6.0) for hz in (60, 1e3, 5e3)]
    found = told(*readings)
    assert found["stage-gain", "driver"].judgement is Judgement.LOW
    assert found["stage-response", "driver"].value == pytest.approx(0.0, abs=1e-9)
    assert found["stage-response", "driver"].judgement is Judgement.WITHIN


def test_an_output_read_at_other_frequencies_is_held_against_the_one_input() -> None:
    of = of_drawing(drawing("driver"))
    readings = [("stage-input-volts", "driver", 0.02)]
    readings += [
        ("stage-output-volts", f"driver@{hz:g}", 0.02 * 10 ** (of.gain_db(hz) / 20))
        for hz in (60.0, 1e3, 5e3)
    ]
    found = told(*readings)
    assert found["stage-response", "driver"].value == pytest.approx(0.0, abs=1e-9)
    assert found["stage-gain", "driver"].value == pytest.approx(of.gain_db(1e3))


def test_a_place_that_is_no_frequency_is_no_point() -> None:
    found = told(("stage-gain", "driver@loud", 3.0), ("stage-gain", "driver@-5", 3.0))
    assert found["stage-gain", "driver"].judgement is Judgement.NOT_MEASURED


def test_a_stage_that_cannot_be_solved_says_why_and_holds_to_its_drawing() -> None:
    broken = replace(drawing("driver"), netlist="R1 g 0 1k\nX1 p g 0 12AX7\nR2 p 0 1k")
    bare = replace(broken, id="bare", gain_db=None)
    found = told(
        ("stage-gain", "driver", 35.0),
        ("stage-gain", "bare", 35.0),
        circuit=replace(LANTERN, stages=(broken, bare)),
    )
    assert found["stage-gain", "driver"].judgement is Judgement.WITHIN
    assert "does not conduct" in found["stage-gain", "driver"].works
    assert found["stage-gain", "bare"].judgement is Judgement.NO_LIMIT
    assert "does not conduct" in found["stage-response", "driver"].says


def test_without_a_drawn_gain_the_netlist_says_what_is_expected() -> None:
    own = replace(drawing("driver"), gain_db=None)
    line = told(("stage-gain", "driver", 20.0), circuit=replace(LANTERN, stages=(own,)))[
        "stage-gain", "driver"
    ]
    assert line.expected == pytest.approx(35.1, abs=0.1)
    assert line.judgement is Judgement.LOW
    assert line.bounds[0].confidence == "computed"


def test_a_circuit_without_stages_has_no_lines() -> None:
    assert told(circuit=replace(LANTERN, stages=())) == {}


def test_the_plot_of_a_stage_shows_what_was_measured_on_what_is_drawn() -> None:
    taken = (
        Reading(1, "stage-gain", "driver", "34", 34.0),
        Reading(2, "stage-gain", "driver@30k", "30", 30.0),
    )
    spec = stage_plot(Bench(LANTERN, taken, line_kinds()), drawing("driver"))
    assert spec is not None
    assert [layer["mark"]["type"] for layer in spec["layer"]] == ["area", "line", "point"]
    assert max(row["hz"] for row in spec["data"]["values"]) == pytest.approx(30_000.0)
    assert "35.1 dB at 1 kHz as drawn, with 2 measured points" in spec["description"]


def test_a_plot_with_pots_turned_is_another() -> None:
    bench = Bench(LANTERN, (), line_kinds())
    drawn, turned = (
        stage_plot(bench, drawing("tone"), pots=pots) for pots in (None, {"pot-3": 1.0})
    )
    assert drawn is not None
    assert turned is not None
    assert turned["data"]["values"][-1]["db"] > drawn["data"]["values"][-1]["db"] + 3.0
    with pytest.raises(NetlistError, match="no pot POT-9"):
        stage_plot(bench, drawing("tone"), pots={"pot-9": 1.0})


def test_a_stage_that_cannot_be_solved_and_was_not_measured_has_no_plot() -> None:
    broken = replace(drawing("driver"), netlist="R1 g 0 1k\nX1 p g 0 12AX7\nR2 p 0 1k")
    assert stage_plot(Bench(LANTERN, (), line_kinds()), broken) is None
