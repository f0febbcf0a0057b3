"""The invented amps, read as they are drawn: their drawings, their valves and their supplies agree."""

from __future__ import annotations

import pytest

from endbell.bench.circuit import Circuit
from endbell.bench.circuits.find import find_circuit
from endbell.bench.lines import Judgement

from .amps import told

MODELS = ("lantern-20", "lantern-20-reverb", "beacon-45", "wick-6")
OFF = (Judgement.LOW, Judgement.HIGH, Judgement.ODD, Judgement.IMPOSSIBLE)


def as_drawn(circuit: Circuit) -> dict[tuple[str, str], float]:
    out = {("rail-volts", rail.id): rail.volts for rail in circuit.rails}
    for seat in circuit.seats:
        if seat.use == "rectifier":
            continue
        for electrode in ("plate", "screen", "cathode", "grid"):
            volts = getattr(seat, electrode)
            if volts is not None:
                out[(f"{electrode}-volts", seat.at)] = float(volts)
    return out


@pytest.mark.parametrize("model", MODELS)
def test_an_amp_that_reads_as_it_is_drawn_has_no_line_off(model: str) -> None:
    circuit = find_circuit("brackwater", model)
    found = told(circuit, as_drawn(circuit))
    assert {key: line.says for key, line in found.items() if line.judgement in OFF} == {}


@pytest.mark.parametrize("model", MODELS)
def test_the_drawn_supply_gives_the_drawn_rail(model: str) -> None:
    circuit = find_circuit("brackwater", model)
    found = told(circuit, as_drawn(circuit))
    first = next(rail for rail in circuit.rails if not rail.fed_from and rail.volts > 0.0)
    line = found[("rail-volts", first.id)]
    if "winding and rectifier give" in line.works:
        volts = float(line.works.split("give ")[1].split(" V")[0])
        assert volts == pytest.approx(first.volts, rel=0.05)
    else:
        # fixed bias: what the output valves draw has to be read at the winding first
        assert all(seat.bias == "fixed" for seat in circuit.seats if seat.use == "output")


@pytest.mark.parametrize("model", MODELS)
def test_a_dead_output_valve_is_found_on_every_amp(model: str) -> None:
    circuit = find_circuit("brackwater", model)
    values = as_drawn(circuit)
    seat = next(seat for seat in circuit.seats if seat.use == "output")
    rail = circuit.rail(seat.rail)
    assert rail is not None
    values[("plate-volts", seat.at)] = rail.volts
    values[("cathode-volts", seat.at)] = 0.0
    values[("probe-current", seat.at)] = 0.0
    found = told(circuit, values)
    assert found[("plate-dissipation", seat.at)].judgement is Judgement.LOW
    assert found[("valve-operating-point", seat.at)].judgement is Judgement.LOW
