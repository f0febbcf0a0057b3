"""The invented amps: their drawings are what their valves, parts and windings really give."""

from __future__ import annotations

import re

import pytest

from endbell.bench.circuit import Circuit, Seat
from endbell.bench.circuits.direct import settled
from endbell.bench.circuits.find import find_circuit
from endbell.bench.circuits.netlist import parse
from endbell.bench.circuits.response import of_drawing
from endbell.bench.valves.full_signal import driven
from endbell.bench.valves.models import model
from endbell.bench.valves.operating_point import Point, Wiring, settle
from endbell.bench.valves.ratings import ratings_of
from endbell.bench.valves.rectifier import rectifier
from endbell.bench.valves.supply import Section, Winding, capacitor_input, source_ohm
from endbell.reference import load_reference

MODELS = ("beacon-45", "lantern-20", "lantern-20-reverb", "wick-6")
# which stage solves which seat: (seat, stage, nodes of plate, cathode, grid)
SOLVED = {
    "beacon-45": [
        ("V1a", "first-stage", "p", "k", ""),
        ("V2a", "follower", "p", "k", ""),
        ("V2b", "follower", "b", "f", "p"),
        ("V3a", "inverter", "p1", "k", "g1"),
        ("V3b", "inverter", "p2", "k", "g2"),
    ],
    "lantern-20": [
        ("V1a", "first-stage", "p", "k", ""),
        ("V2a", "driver", "p", "k", ""),
        ("V2b", "inverter", "p", "k", "g"),
    ],
    "lantern-20-reverb": [
        ("V1a", "first-stage", "p", "k", ""),
        ("V2a", "reverb-drive", "p", "k", ""),
        ("V2b", "reverb-recovery", "p", "k", ""),
        ("V4a", "inverter", "p1", "k", "g1"),
        ("V4b", "inverter", "p2", "k", "g2"),
    ],
    "wick-6": [("V1a", "first-stage", "p", "k", ""), ("V1b", "driver", "p", "k", "")],
}


def part(circuit: Circuit, part: str, use: str) -> float:
    (found,) = [w.dc_ohm for w in circuit.windings if (w.part, w.use) == (part, use)]
    assert found is not None
    return found


def output(circuit: Circuit, seat: Seat) -> Point:
    share = 2.0 if seat.pair else 1.0
    wiring = Wiring(
        volts(circuit, "A"),
        part(circuit, "ot", "primary") / share,
        seat.cathode_ohm or 0.0,
        sharing=seat.cathode_sharing,
        grid=seat.grid or 0.0,
        screen_supply=volts(circuit, "B"),
        screen_ohm=seat.screen_ohm or 0.0,
    )
    return settle(model(seat.type).valve, wiring)


def volts(circuit: Circuit, rail: str) -> float:
    found = circuit.rail(rail)
    assert found is not None
    return found.volts


@pytest.mark.parametrize(
    ("name", "at", "stage", "plate", "cathode", "grid"),
    [(name, *row) for name, rows in SOLVED.items() for row in rows],
)
def test_a_preamp_valve_settles_where_it_is_drawn(
    name: str, at: str, stage: str, plate: str, cathode: str, grid: str
) -> None:
    circuit = find_circuit("brackwater", name)
    seat = circuit.seat(at)
    assert seat is not None
    drawing = next(s for s in circuit.stages if s.id == stage)
    found = settled(parse(drawing.netlist)).volts
    assert found[plate] == pytest.approx(seat.plate, rel=0.02)
    assert found[cathode] == pytest.approx(seat.cathode, rel=0.02)
    if grid:
        assert found[grid] == pytest.approx(seat.grid, rel=0.02)


@pytest.mark.parametrize("name", MODELS)
def test_output_valves_settle_where_they_are_drawn_and_within_their_rating(name: str) -> None:
    circuit = find_circuit("brackwater", name)
    seats = [seat for seat in circuit.seats if seat.use == "output"]
    assert len(seats) == (1 if name == "wick-6" else 2)
    for seat in seats:
        found = output(circuit, seat)
        assert float(found.plate) == pytest.approx(seat.plate, rel=0.02)
        assert float(found.screen) == pytest.approx(seat.screen, rel=0.02)
        assert float(found.cathode) == pytest.approx(seat.cathode, rel=0.02, abs=0.01)
        (rating, *_) = ratings_of(seat.type)
        assert rating.plate_watt is not None
        assert float(found.plate_watt) < rating.plate_watt.value
        assert rating.screen_watt is not None
        assert float(found.screen_watt) < rating.screen_watt.value


@pytest.mark.parametrize("name", MODELS)
def test_the_output_stage_gives_the_power_it_is_sold_by(name: str) -> None:
    circuit = find_circuit("brackwater", name)
    seat = next(seat for seat in circuit.seats if seat.use == "output")
    at = output(circuit, seat)
    assert circuit.primary_ohm is not None
    assert circuit.rated_watt is not None
    full = driven(
        model(seat.type).valve,
        float(at.plate - at.cathode),
        float(at.grid - at.cathode),
        circuit.primary_ohm,
        float(at.screen - at.cathode),
        bool(seat.pair),
    )
    # the transformer keeps a tenth or so for itself, and the supply gives way
    assert 1.0 < full.watt / circuit.rated_watt < 1.45


@pytest.mark.parametrize("name", MODELS)
def test_the_rails_are_what_winding_rectifier_and_valves_make_of_them(name: str) -> None:
    circuit = find_circuit("brackwater", name)
    hv = next(w for w in circuit.windings if w.use == "hv")
    assert hv.volts is not None
    half, tap = hv.volts / 2.0, circuit.mains[0].volts
    source = source_ohm(part(circuit, "pt", "hv") / 2.0, part(circuit, "pt", "primary"), half / tap)
    drawn = {rail.id: 0.0 for rail in circuit.rails}
    for seat in circuit.seats:
        if seat.use == "output":
            at = output(circuit, seat)
            drawn["A"] += float(at.plate_amp)
            drawn["B"] += float(at.screen_amp)
    for seat in circuit.seats:
        if seat.use not in ("output", "rectifier") and seat.cathode_ohm and seat.cathode:
            drop = seat.cathode - (seat.grid or 0.0) if seat.plate_ohm else seat.cathode
            drawn[seat.rail] += drop / seat.cathode_ohm / seat.cathode_sharing
    farad = {r.id: sum(c.farad for c in circuit.capacitors if c.rail == r.id and c.use == "filter")
             for r in circuit.rails}  # fmt: skip
    first, *others = [rail for rail in circuit.rails if rail.volts > 0.0]
    sections = [Section(r.through_ohm or 0.0, farad[r.id], drawn[r.id]) for r in others]
    found = capacitor_input(
        Winding(half, source, circuit.mains_hz or 60.0),
        rectifier(circuit.rectifier),
        farad[first.id],
        drawn[first.id],
        sections,
    )
    for rail, made in zip((first, *others), found.rails, strict=True):
        assert made.volts == pytest.approx(rail.volts, rel=0.03)
    assert first.ripple is not None
    assert found.rails[0].ripple < first.ripple


@pytest.mark.parametrize("name", MODELS)
def test_a_drawn_gain_is_what_the_stage_gives(name: str) -> None:
    for drawing in find_circuit("brackwater", name).stages:
        assert of_drawing(drawing).gain_db(drawing.gain_hz) == pytest.approx(
            drawing.gain_db, abs=0.06
        )


@pytest.mark.parametrize("name", MODELS)
def test_parts_of_a_circuit_are_parts_of_the_model(name: str) -> None:
    reference, _problems = load_reference(["brackwater"])
    (known,) = [one for one in reference.models if one.id == name]
    expected = {part.id for part in known.expected}
    circuit = find_circuit("brackwater", name)
    named = {c.part for c in circuit.capacitors if c.part} | {w.part for w in circuit.windings}
    named |= {r.id for r in circuit.resistors if r.use.startswith("pot")}
    assert named <= expected
    assert {p for p in expected if re.match(r"elco|pot|choke|pt|ot|rt|cap-", p)} <= named


@pytest.mark.parametrize("name", MODELS)
def test_turns_and_loads_of_the_output_transformer_agree(name: str) -> None:
    circuit = find_circuit("brackwater", name)
    for winding in circuit.windings:
        if winding.part == "ot" and winding.use == "secondary":
            assert winding.turns is not None
            assert winding.load_ohm is not None
            seen = winding.load_ohm / winding.turns**2
            assert seen == pytest.approx(circuit.primary_ohm, rel=1e-3)


def test_the_small_one_has_two_wires_and_a_capacitor_to_the_chassis() -> None:
    circuit = find_circuit("brackwater", "wick-6")
    assert circuit.protection == "0"
    assert [c.id for c in circuit.capacitors if c.use == "line-to-chassis"] == ["C9"]
    assert find_circuit("brackwater", "beacon-45").protection == "I"
