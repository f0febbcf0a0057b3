"""Faults that one look settles: taken as found, and not counted among the two that are reckoned.

A fuse of another value *is* the wrong fuse.  Three such faults on one old amp are nothing rare, and
would leave no room under a limit of two; so each is set aside at the probability its own symptom
gives it, and what else it may bring is added to what chance brings.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from .fitted import Fitted
from .network import Network
from .posterior import Seen, posterior
from .tables import Fault, symptoms

SURE = 0.9
"""A fault that its own symptom gives less is reckoned with like any other."""


@dataclass(frozen=True, slots=True)
class Settled:
    """A fault that was found by definition: ``p`` by its own symptom alone, ``prior`` before."""

    fault: Fault
    age: str
    symptom: int
    p: float
    prior: float


def set_aside(
    model: Fitted, seen: Mapping[int, Seen]
) -> tuple[Fitted, dict[int, Seen], tuple[Settled, ...]]:
    """The network and the findings without the faults that are settled, and those faults."""
    names = {symptom.id: n for n, symptom in enumerate(symptoms())}
    net = model.network
    out: dict[int, Settled] = {}
    for i, fault in enumerate(model.faults):
        number = names.get(fault.settled_by)
        if number is None or number not in seen or not seen[number].off:
            continue
        p = _alone(net, i, number, seen[number])
        if p >= SURE:
            out[i] = Settled(fault, model.ages[i], number, p, float(net.prior[i]))
    if not out:
        return model, dict(seen), ()
    rest = [i for i in range(net.faults) if i not in out]
    brought = np.prod(1.0 - net.strength[list(out)], axis=0)
    left = replace(
        net,
        prior=net.prior[rest],
        strength=net.strength[rest],
        leak=1.0 - (1.0 - net.leak) * brought,
        everywhere=None if net.everywhere is None else net.everywhere[rest],
    )
    kept = {n: one for n, one in seen.items() if n not in {s.symptom for s in out.values()}}
    faults = tuple(model.faults[i] for i in rest)
    ages = tuple(model.ages[i] for i in rest)
    return Fitted(left, faults, ages), kept, tuple(out.values())


def _alone(net: Network, fault: int, symptom: int, found: Seen) -> float:
    """Posterior of a fault if it and chance were all that there is."""
    one = Network(
        net.prior[[fault]],
        net.strength[[fault]][:, [symptom]],
        net.leak[[symptom]],
        net.false_alarm[[symptom]],
        net.miss[[symptom]],
    )
    return float(posterior(one, [(0, found)]).marginals()[0])
