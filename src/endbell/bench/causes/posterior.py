"""What the symptoms seen so far say: exact over no fault, one and two, symptom by symptom."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from .network import Array, Network, log_sum


@dataclass(frozen=True, slots=True)
class Seen:
    """What was found at a symptom: ``read`` of its ``places`` were measured; ``off``: whether it
    was there at one of them at least."""

    off: bool
    read: int = 1
    places: int = 1


@dataclass(frozen=True)
class Belief:
    """Beliefs about a network after some symptoms.

    ``log``: (H,) log of prior times likelihood, not normalised; ``said``: what each symptom seen
    added to it, so that one can be taken back.
    """

    network: Network
    log: Array
    said: Mapping[int, Array]
    seen: Mapping[int, Seen]

    def probabilities(self) -> Array:
        """(H,) posterior of every hypothesis, in the order of ``Network.pairs``."""
        return np.exp(self.log - log_sum(self.log))

    def marginals(self) -> Array:
        """(F,) posterior that each fault is present."""
        return marginals(self.network, self.probabilities())

    def told(self, symptom: int, found: Seen) -> Belief:
        """With one symptom more; one that was seen before is replaced by what is found now."""
        before = self.log
        if symptom in self.said:
            before = before - self.said[symptom]
        added = log_likelihood(self.network, symptom, found)
        return Belief(
            self.network,
            before + added,
            {**self.said, symptom: added},
            {**self.seen, symptom: found},
        )

    def without(self, symptom: int) -> Array:
        """(F,) marginals if ``symptom`` had not been looked at."""
        log = self.log - self.said[symptom]
        return marginals(self.network, np.exp(log - log_sum(log)))


def log_likelihood(network: Network, symptom: int, found: Seen) -> Array:
    """(H,) log probability of what was found, given each hypothesis."""
    within = network.reads_within(symptom, found.read, found.places)
    with np.errstate(divide="ignore"):
        return np.log1p(-within) if found.off else np.log(within)


def start(network: Network) -> Belief:
    """Before anything was looked at."""
    return Belief(network, network.log_prior, {}, {})


def posterior(network: Network, seen: Iterable[tuple[int, Seen]]) -> Belief:
    """After every symptom of ``seen``. Raises ValueError where no hypothesis allows them."""
    belief = start(network)
    for symptom, found in seen:
        belief = belief.told(symptom, found)
    if not np.isfinite(belief.log.max()):
        raise ValueError("no fault, no pair of faults and no chance brings these symptoms")
    return belief


def marginals(network: Network, probabilities: Array) -> Array:
    """(F,) sums over the hypotheses that hold each fault."""
    first, second = network.pairs
    size = network.faults + 1
    held = np.zeros(size)
    for fault in (first, second):
        held += np.bincount(fault, probabilities, size)
    return held[:-1]


def counts(network: Network, probabilities: Array) -> tuple[float, float, float]:
    """Probability of no fault, of one, of two."""
    one = network.faults + 1
    return (
        float(probabilities[0]),
        float(probabilities[1:one].sum()),
        float(probabilities[one:].sum()),
    )


def likeliest(network: Network, probabilities: Array) -> tuple[tuple[int, ...], float]:
    """The likeliest set of faults (ties: the earlier one) and its probability."""
    best = int(np.argmax(probabilities))
    first, second = network.pairs
    held = tuple(int(f) for f in (first[best], second[best]) if f < network.faults)
    return held, float(probabilities[best])
