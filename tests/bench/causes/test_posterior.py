"""The posterior is exact: against every set counted one by one, and against a library."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest

from endbell.bench.causes.network import Network
from endbell.bench.causes.posterior import Seen, counts, likeliest, posterior, start

from . import slow


@pytest.mark.parametrize("seed", range(12))
def test_the_posterior_is_that_of_every_set_counted_one_by_one(seed: int) -> None:
    dice = slow.dice(seed)
    net = slow.some_network(dice, int(dice.integers(1, 7)), int(dice.integers(1, 8)))
    seen = slow.some_findings(dice, net)
    belief = posterior(net, seen.items())
    by_hand = slow.sets(net, seen)
    first, second = net.pairs
    for a, b, p in zip(first, second, belief.probabilities(), strict=True):
        held = frozenset(int(f) for f in (a, b) if f < net.faults)
        assert p == pytest.approx(by_hand[held], abs=1e-12)
    assert belief.marginals() == pytest.approx(slow.marginals(net, by_hand), abs=1e-12)
    assert sum(counts(net, belief.probabilities())) == pytest.approx(1.0)


@pytest.mark.parametrize("seed", range(6))
def test_a_symptom_taken_back_leaves_what_was_there_without_it(seed: int) -> None:
    dice = slow.dice(100 + seed)
    net = slow.some_network(dice, 6, 7)
    seen = slow.some_findings(dice, net)
    belief = posterior(net, seen.items())
    for symptom in seen:
        rest = {s: found for s, found in seen.items() if s != symptom}
        fresh = posterior(net, rest.items()).marginals()
        assert belief.without(symptom) == pytest.approx(fresh, abs=1e-12)


def test_the_order_of_measuring_changes_nothing_and_a_later_reading_replaces_an_earlier() -> None:
    net = slow.some_network(slow.dice(5), 5, 3)
    found = [(0, Seen(True)), (1, Seen(False)), (2, Seen(True))]
    one = posterior(net, found)
    other = posterior(net, [(0, Seen(False)), *reversed(found)])
    assert one.marginals() == pytest.approx(other.marginals(), abs=1e-12)


def test_a_line_within_speaks_against_what_would_have_shown_there() -> None:
    net = slow.some_network(slow.dice(8), 4, 2)
    before, after = start(net).marginals(), posterior(net, [(0, Seen(False))]).marginals()
    strongest = int(np.argmax(net.strength[:, 0]))
    assert after[strongest] < before[strongest]


def test_two_of_four_places_within_speak_less_against_it_than_all_four() -> None:
    net = Network(
        np.array([0.2]), np.array([[0.9]]), np.array([0.01]), np.array([0.01]), np.array([0.02])
    )
    p = [posterior(net, [(0, Seen(False, read, 4))]).marginals()[0] for read in (0, 1, 2, 4)]
    assert p[0] == pytest.approx(0.2)
    assert p == sorted(p, reverse=True)


def test_two_faults_together_explain_what_neither_does_alone() -> None:
    net = Network(
        np.array([0.05, 0.05, 0.05]),
        np.array([[0.95, 0.0], [0.0, 0.95], [0.3, 0.3]]),
        np.array([0.001, 0.001]),
        np.array([0.001, 0.001]),
        np.array([0.01, 0.01]),
    )
    belief = posterior(net, [(0, Seen(True)), (1, Seen(True))])
    held, p = likeliest(net, belief.probabilities())
    assert held == (2,)  # one fault of 30 % and 30 % still beats two rare ones that fit
    net = Network(net.prior * [4, 4, 0.5], net.strength, net.leak, net.false_alarm, net.miss)
    held, p = likeliest(net, posterior(net, [(0, Seen(True)), (1, Seen(True))]).probabilities())
    assert held == (0, 1)
    assert p > 0.5


def test_findings_that_nothing_allows_are_refused() -> None:
    net = Network(
        np.array([0.1]), np.array([[0.0]]), np.array([0.0]), np.array([0.0]), np.array([0.0])
    )
    with pytest.raises(ValueError, match="no chance brings"):
        posterior(net, [(0, Seen(True))])


def test_the_share_of_amps_with_more_than_two_faults_is_counted() -> None:
    net = slow.some_network(slow.dice(3), 6, 2)
    total = 0.0
    for number in range(2**6):
        held = [bool(number >> f & 1) for f in range(6)]
        if sum(held) > 2:
            total += float(np.prod(np.where(held, net.prior, 1 - net.prior)))
    assert net.beyond == pytest.approx(total, abs=1e-12)


@pytest.mark.parametrize("bad", [-0.1, 1.5, float("nan")])
def test_what_is_no_probability_is_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="0 to 1"):
        Network(
            np.array([bad]), np.array([[0.5]]), np.array([0.0]), np.array([0.0]), np.array([0.0])
        )


# ---- against pgmpy (its variable elimination), faults and symptoms as binary variables


@pytest.mark.parametrize("seed", range(5))
def test_a_library_finds_the_same_marginals(seed: int) -> None:
    dice = slow.dice(40 + seed)
    net = slow.some_network(dice, 4, 5)
    seen = {s: Seen(bool(dice.uniform() < 0.4)) for s in range(5) if dice.uniform() < 0.8}
    theirs = _by_library(net, seen)
    assert posterior(net, seen.items()).marginals() == pytest.approx(theirs, abs=1e-9)


def _by_library(net: Network, seen: dict[int, Seen]) -> list[float]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own use of things that will change
        factors = pytest.importorskip("pgmpy.factors.discrete")
        models = pytest.importorskip("pgmpy.models")
        inference = pytest.importorskip("pgmpy.inference")
        faults = [f"fault {f}" for f in range(net.faults)]
        model: Any = models.DiscreteBayesianNetwork()
        model.add_nodes_from([*faults, "few", *(f"symptom {s}" for s in seen)])
        model.add_edges_from([(fault, "few") for fault in faults])
        for f, name in enumerate(faults):
            p = float(net.prior[f])
            model.add_cpds(factors.TabularCPD(name, 2, [[1 - p], [p]]))
        states = [
            [f for f in range(net.faults) if number >> (net.faults - 1 - f) & 1]
            for number in range(2**net.faults)
        ]
        size = [2] * net.faults
        few = np.array([float(len(held) <= 2) for held in states])
        model.add_cpds(factors.TabularCPD("few", 2, [1 - few, few], faults, size))
        for s in seen:
            name = f"symptom {s}"
            model.add_edges_from([(fault, name) for fault in faults])
            off = np.array([slow.off_chance(net, held, s, Seen(True)) for held in states])
            model.add_cpds(factors.TabularCPD(name, 2, [1 - off, off], faults, size))
        solver = inference.VariableElimination(model)
        evidence = {f"symptom {s}": int(found.off) for s, found in seen.items()} | {"few": 1}
        return [
            float(solver.query([fault], evidence, show_progress=False).values[1])
            for fault in faults
        ]
