"""The next measurement: its information is exact, and what is not allowed is never named."""

from __future__ import annotations

import numpy as np
import pytest

from endbell.bench.causes.looking import Look, bits, next_looks
from endbell.bench.causes.network import Network
from endbell.bench.causes.posterior import Seen, posterior, start

from . import slow


@pytest.mark.parametrize("seed", range(8))
def test_the_information_is_entropy_now_less_the_mean_entropy_after(seed: int) -> None:
    dice = slow.dice(200 + seed)
    net = slow.some_network(dice, 5, 6)
    seen = {0: Seen(bool(dice.uniform() < 0.5)), 1: Seen(False)}
    belief = posterior(net, seen.items())
    for shown in ([2], [3, 4], [2, 3, 5]):
        told = bits(belief, [(s, 1, 1) for s in shown], belief.probabilities())
        assert told == pytest.approx(slow.information(net, seen, shown), abs=1e-10)


def test_the_second_of_two_places_tells_what_it_adds_to_the_first() -> None:
    net = slow.some_network(slow.dice(9), 4, 2)
    before = {0: Seen(False, 1, 2)}
    belief = posterior(net, before.items())
    now = slow.sets(net, before)
    after = well = 0.0
    for off in (True, False):
        joint = {}
        for held, p in now.items():
            first = 1 - slow.off_chance(net, held, 0, Seen(False, 1, 2))
            both = 1 - slow.off_chance(net, held, 0, Seen(False, 2, 2))
            joint[held] = p * ((1 - both / first) if off else both / first)
        well = sum(joint.values())
        after += well * slow.entropy({held: p / well for held, p in joint.items()})
    told = bits(belief, [(0, 2, 2)], belief.probabilities())
    assert told == pytest.approx(slow.entropy(now) - after, abs=1e-10)


def test_what_was_found_already_tells_nothing_more() -> None:
    net = slow.some_network(slow.dice(4), 4, 3)
    belief = posterior(net, [(0, Seen(True, 1, 3)), (1, Seen(False))])
    weights = belief.probabilities()
    assert bits(belief, [(0, 2, 3)], weights) == 0.0
    assert bits(belief, [(1, 1, 1)], weights) == 0.0


def test_a_symptom_that_no_fault_brings_tells_nothing() -> None:
    net = Network(
        np.array([0.2, 0.3]),
        np.array([[0.0], [0.0]]),
        np.array([0.1]),
        np.array([0.02]),
        np.array([0.05]),
    )
    belief = start(net)
    assert bits(belief, [(0, 1, 1)], belief.probabilities()) == pytest.approx(0.0, abs=1e-12)


def test_what_is_not_allowed_is_never_named_however_much_it_would_tell() -> None:
    net = slow.some_network(slow.dice(1), 5, 4)
    looks = [Look(f"look {s}", ((s, 1, 1),), 1.0) for s in range(4)]
    best = next_looks(start(net), looks, lambda key: True)[0].look.key
    kept = next_looks(start(net), looks, lambda key: key != best)
    assert best not in [gain.look.key for gain in kept]
    assert len(kept) == 3


def test_the_same_information_in_half_the_time_comes_first() -> None:
    net = slow.some_network(slow.dice(2), 5, 1)
    slow_one, quick = Look("slow", ((0, 1, 1),), 4.0), Look("quick", ((0, 1, 1),), 2.0)
    ranked = next_looks(start(net), [slow_one, quick], lambda key: True)
    assert [gain.look.key for gain in ranked] == ["quick", "slow"]
    assert ranked[0].rate == pytest.approx(2 * ranked[1].rate)
