"""The network as arrays: what each fault does to each symptom, and how well a symptom is seen.

Noisy-OR (Pearl 1988, from memory): a symptom stays away only if every present fault fails to bring
it, and nothing else does:  P(away | faults) = (1 - leak) * product of (1 - strength).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Network:
    """F faults and S symptoms.

    ``prior``: (F,) probability of each fault, independent of the others.  ``strength``: (F, S)
    probability that the fault alone brings the symptom.  ``everywhere``: (F, S) whether it then
    shows at every place of the symptom; else at one place, any of them alike.  ``leak``: (S,)
    probability of the symptom without any fault.  ``false_alarm``, ``miss``: (S,) chance that one
    reading calls a symptom that is not there, or overlooks one that is.  Raises ValueError where a
    shape or a probability cannot be.
    """

    prior: Array
    strength: Array
    leak: Array
    false_alarm: Array
    miss: Array
    everywhere: NDArray[np.bool_] | None = None
    _kept: dict[tuple[int, int, int], Array] = field(
        default_factory=dict[tuple[int, int, int], Array], compare=False, repr=False, init=False
    )

    chances: dict[tuple[int, int, int, int], tuple[Array, Array]] = field(
        default_factory=dict[tuple[int, int, int, int], tuple[Array, Array]],
        compare=False,
        repr=False,
        init=False,
    )

    def __post_init__(self) -> None:
        faults, symptoms = self.strength.shape
        shapes = [a.shape for a in (self.leak, self.false_alarm, self.miss)]
        if self.prior.shape != (faults,) or any(shape != (symptoms,) for shape in shapes):
            raise ValueError("a table of the network has another number of faults or symptoms")
        for array in (self.prior, self.strength, self.leak, self.false_alarm, self.miss):
            if not bool(((array >= 0) & (array <= 1)).all()):
                raise ValueError("a probability of the network is not from 0 to 1")
        if not bool((self.prior < 1).all()):
            raise ValueError("a fault cannot be certain before anything was looked at")

    @property
    def faults(self) -> int:
        """How many faults."""
        return self.prior.size

    @cached_property
    def pairs(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Both faults of every hypothesis, shape (H,) each: no fault, each alone, every pair.

        The number F stands for 'none'; H = 1 + F + F(F-1)/2.
        """
        none = self.faults
        one = np.arange(none)
        first, second = np.triu_indices(none, 1)
        return (
            np.concatenate([[none], one, first]).astype(np.intp),
            np.concatenate([[none], np.full(none, none), second]).astype(np.intp),
        )

    @cached_property
    def log_prior(self) -> Array:
        """(H,) log of the prior of every hypothesis, renormalised over at most two faults."""
        with np.errstate(divide="ignore"):
            odds = np.append(np.log(self.prior) - np.log1p(-self.prior), 0.0)
        first, second = self.pairs
        log = odds[first] + odds[second]
        return log - log_sum(log)

    def away(self, symptom: int, covered: float = 1.0) -> Array:
        """(H,) probability that ``symptom`` is at none of the places looked at, given each
        hypothesis; ``covered``: the share of its places that were looked at."""
        strength = self.strength[:, symptom]
        if covered < 1.0:
            local = strength * covered
            strength = (
                local
                if self.everywhere is None
                else np.where(self.everywhere[:, symptom], strength, local)
            )
        kept = np.append(1.0 - strength, 1.0)
        first, second = self.pairs
        return (1.0 - self.leak[symptom] * covered) * kept[first] * kept[second]

    def reads_within(self, symptom: int, read: int = 1, places: int = 1) -> Array:
        """(H,) probability that all ``read`` readings of a symptom's ``places`` look well.

        With no reading it is one.  A symptom that is among the places read is overlooked at its own
        place and falsely seen at none of the others.
        """
        key = (symptom, read, places)
        if key not in self._kept:
            self._kept[key] = self._reads_within(*key)
            self._kept[key].flags.writeable = False
        return self._kept[key]

    def _reads_within(self, symptom: int, read: int, places: int) -> Array:
        if read == 0:
            return np.ones(self.pairs[0].size)
        away = self.away(symptom, min(1.0, read / places))
        quiet = 1.0 - self.false_alarm[symptom]
        return quiet**read * away + self.miss[symptom] * quiet ** (read - 1) * (1.0 - away)

    @cached_property
    def beyond(self) -> float:
        """Share of amps that would have more than two of the faults, by the same priors."""
        none = float(np.prod(1.0 - self.prior))
        odds = self.prior / (1.0 - self.prior)
        one = float(odds.sum())
        two = (one * one - float((odds * odds).sum())) / 2
        return max(0.0, 1.0 - none * (1.0 + one + two))


def log_sum(log: Array) -> float:
    """Log of the sum of exponentials."""
    top = float(log.max())
    return top + float(np.log(np.exp(log - top).sum()))
