"""The drawn faults of the benchmark: drawn as the tables say, and found."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from benchmarks import causes
from benchmarks.causes_simulator import Twist, World

from endbell.bench.causes.network import Network
from endbell.bench.causes.tables import faults, symptoms, whole_network


def test_amps_are_drawn_as_often_with_a_symptom_as_the_network_says() -> None:
    net = whole_network()
    names = [fault.id for fault in faults()]
    number = names.index("coupling-leaky")
    world = World(Twist(), seed=3)
    drawn = [world.case({"coupling-leaky": 1 - 1e-9}).found for _ in range(1500)]
    for s, symptom in enumerate(symptoms()):
        expected = 1.0 - float(_well(net, s)[1 + number])
        share = sum(found[symptom.id] for found in drawn) / len(drawn)
        assert share == pytest.approx(expected, abs=0.06), symptom.id


def _well(net: Network, symptom: int):
    return net.reads_within(symptom)


def test_a_twisted_world_differs_and_the_tables_own_does_not() -> None:
    plain, twisted = World(Twist(), 5), World(Twist(strength=0.8, leak=2.0), 5)
    names = [fault.id for fault in faults()]
    for fault, row in zip(names, whole_network().strength, strict=True):
        for s, symptom in enumerate(symptoms()):
            assert plain.strength[fault].get(symptom.id, 0.0) == pytest.approx(float(row[s]))
    assert plain.strength != twisted.strength
    assert plain.leak != twisted.leak


def test_faults_are_found_and_the_figures_are_told() -> None:
    out = causes.run("as the tables say", 10, seed=2)
    found = causes.summary(out)
    assert found["amps with a fault"] == 10
    assert found["one of an amp's faults in the first three"] >= 0.9
    assert 0 < found["share of the checklist"] <= 1
    assert "true faults in the first three" in causes.table({"drawn": found}, 10, 2)


def test_power_comes_after_everything_that_must_come_before_it() -> None:
    amp = causes.amps()[0]
    keys = [look.key for look in amp.steps]
    must = [key for key in causes.BEFORE_POWER if key in keys]
    case = World(Twist(), 1).case({f.id: 0.03 for f in amp.model.faults})
    belief, done = causes.start(amp.model.network), []
    for _ in range(len(must)):
        done.append(causes.chosen(belief, amp, done).key)
    assert done == must
    assert case.faults <= {fault.id for fault in faults()}


def test_calibration_error_is_the_distance_of_what_is_said_from_what_comes() -> None:
    assert causes.ece([(0.75, True), (0.75, True), (0.75, True), (0.75, False)]) == 0.0
    assert causes.ece([(0.9, False)]) == pytest.approx(0.9)
