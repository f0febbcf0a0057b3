"""Expected information of a measurement: exact, over every outcome."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from .network import Array, Network
from .posterior import Belief, Seen


@dataclass(frozen=True, slots=True)
class Look:
    """A measurement: the symptoms it shows, each with the state it would have been read in.

    ``shows``: (symptom, readings after it, places).  ``minutes``: what it costs, more than 0.
    """

    key: str
    shows: tuple[tuple[int, int, int], ...]
    minutes: float


@dataclass(frozen=True, slots=True)
class Gain:
    """What a measurement is expected to tell. ``bits`` about which faults there are."""

    look: Look
    bits: float

    @property
    def rate(self) -> float:
        """Bits a minute."""
        return self.bits / self.look.minutes


def next_looks(
    belief: Belief, looks: Iterable[Look], allowed: Callable[[str], bool]
) -> tuple[Gain, ...]:
    """Every allowed measurement, most bits a minute first; ties in the order they came in."""
    weights = belief.probabilities()
    gains = [Gain(look, bits(belief, look.shows, weights)) for look in looks if allowed(look.key)]
    return tuple(sorted(gains, key=lambda gain: -gain.rate))


def bits(belief: Belief, shows: Sequence[tuple[int, int, int]], weights: Array) -> float:
    """Mutual information between the hypotheses and the joint outcome of ``shows``, in bits.

    I = H(outcome) - sum over hypotheses of p * H(outcome | hypothesis) (Shannon 1948); given the
    faults the symptoms are independent, so the second term is a sum over them.
    """
    chances = off_chances(belief, shows)
    if not chances:
        return 0.0
    table = weights[None, :]
    for chance in chances[:-1]:
        table = np.concatenate([table * chance.off, table * (1.0 - chance.off)])
    last, rest = table @ chances[-1].off, table.sum(axis=1)
    given = sum(float(weights @ chance.doubt) for chance in chances)
    return max(0.0, _entropy(np.concatenate([last, rest - last])) - given)


@dataclass(frozen=True, slots=True)
class Chance:
    """``off``: (H,) chance that the next reading finds a symptom; ``doubt``: its entropy, bits."""

    off: Array
    doubt: Array


def off_chances(belief: Belief, shows: Sequence[tuple[int, int, int]]) -> list[Chance]:
    """What the next reading of each symptom may find, given the readings so far.

    A symptom that was found already tells nothing by being found at another place.
    """
    out: list[Chance] = []
    for symptom, read, places in shows:
        before = belief.seen.get(symptom, Seen(False, 0, places))
        if before.off or read <= before.read:
            continue
        out.append(_chance(belief.network, symptom, before.read, read, places))
    return out


def _chance(network: Network, symptom: int, before: int, read: int, places: int) -> Chance:
    key = (symptom, before, read, places)
    if key not in network.chances:
        after = network.reads_within(symptom, read, places)
        sofar = network.reads_within(symptom, before, places)
        ratio = np.divide(after, sofar, out=np.ones_like(after), where=sofar > 0)
        off = np.clip(1.0 - ratio, 0.0, 1.0)
        network.chances[key] = (off, binary_entropy(off))
    return Chance(*network.chances[key])


def _entropy(p: Array) -> float:
    known = p[p > 0]
    return -float(known @ np.log2(known))


def binary_entropy(p: Array) -> Array:
    q = 1.0 - p
    with np.errstate(divide="ignore", invalid="ignore"):
        bits_ = -(p * np.log2(p)) - q * np.log2(q)
    return np.nan_to_num(bits_, nan=0.0)
