"""The slow, obvious twin: every set of at most two faults, every symptom, one product at a time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import combinations, product
from math import log2, prod

import numpy as np
from numpy.random import Generator

from endbell.bench.causes.network import Network
from endbell.bench.causes.posterior import Seen

Sets = dict[frozenset[int], float]


def some_network(dice: Generator, faults: int, symptoms: int) -> Network:
    """A small network drawn at random, a third of its links missing."""
    strength = dice.uniform(0.05, 0.98, (faults, symptoms))
    strength[dice.uniform(size=strength.shape) < 1 / 3] = 0.0
    return Network(
        prior=dice.uniform(0.01, 0.4, faults),
        strength=strength,
        leak=dice.uniform(0.0, 0.1, symptoms),
        false_alarm=dice.uniform(0.001, 0.05, symptoms),
        miss=dice.uniform(0.001, 0.1, symptoms),
        everywhere=dice.uniform(size=strength.shape) < 0.3,
    )


def off_chance(net: Network, held: Iterable[int], symptom: int, seen: Seen) -> float:
    """Chance that one reading at least of those made finds the symptom."""
    share = seen.read / seen.places
    away = 1.0 - net.leak[symptom] * share
    for fault in held:
        strength = net.strength[fault, symptom]
        if net.everywhere is None or not net.everywhere[fault, symptom]:
            strength *= share
        away *= 1.0 - strength
    quiet = (1.0 - net.false_alarm[symptom]) ** (seen.read - 1)
    well = quiet * (away * (1.0 - net.false_alarm[symptom]) + (1.0 - away) * net.miss[symptom])
    return 1.0 - float(well)


def sets(net: Network, seen: Mapping[int, Seen]) -> Sets:
    """Posterior of every set of at most two faults."""
    out: Sets = {}
    for size in (0, 1, 2):
        for held in combinations(range(net.faults), size):
            p = prod(
                float(net.prior[f]) if f in held else 1.0 - float(net.prior[f])
                for f in range(net.faults)
            )
            for symptom, found in seen.items():
                chance = off_chance(net, held, symptom, found)
                p *= chance if found.off else 1.0 - chance
            out[frozenset(held)] = p
    total = sum(out.values())
    return {held: p / total for held, p in out.items()}


def marginals(net: Network, posterior: Sets) -> list[float]:
    """Probability that each fault is there."""
    return [sum(p for held, p in posterior.items() if f in held) for f in range(net.faults)]


def information(net: Network, seen: Mapping[int, Seen], shown: list[int]) -> float:
    """Bits about the set of faults: entropy now less the mean entropy after each outcome."""
    now = sets(net, seen)
    after = 0.0
    for outcome in product((True, False), repeat=len(shown)):
        found = {s: Seen(off) for s, off in zip(shown, outcome, strict=True)}
        chance = 0.0
        for held, p in now.items():
            like = 1.0
            for s, one in found.items():
                c = off_chance(net, held, s, one)
                like *= c if one.off else 1.0 - c
            chance += p * like
        after += chance * entropy(sets(net, {**seen, **found}))
    return entropy(now) - after


def entropy(posterior: Sets) -> float:
    """In bits."""
    return -sum(p * log2(p) for p in posterior.values() if p > 0)


def some_findings(dice: Generator, net: Network) -> dict[int, Seen]:
    """What was found at some of its symptoms, at some of their places."""
    out: dict[int, Seen] = {}
    for symptom in range(net.leak.size):
        places = int(dice.integers(1, 5))
        read = int(dice.integers(0, places + 1))
        if read:
            out[symptom] = Seen(bool(dice.uniform() < 0.3), read, places)
    return out


def dice(seed: int) -> Generator:
    """Dice of a fixed seed."""
    return np.random.default_rng(seed)
