"""Source numbers: whom a factory, or a repairer, buys from (docs/model.md, section 5)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import accumulate

import numpy as np

from ...reference.types import Supply
from .calendar import Calendar
from .dice import Dice

LENGTHS = (2, 3, 4)
Shares = tuple[float, float, float]
"""P(a source number has 2, 3, 4 digits)."""


class Buying:
    """Draws source numbers for one class and one model."""

    def __init__(
        self,
        factory: Sequence[Supply],
        everyone: Sequence[Supply],
        calendar: Calendar,
        assume: Mapping[str, float],
    ) -> None:
        """``factory``: suppliers' rows open to the model; ``everyone``: all rows of the class."""
        shares = [assume[f"source.length_share.{n}"] for n in LENGTHS]
        self._length = [s / sum(shares) for s in shares]
        self._listed = sorted({s.number for s in factory})
        amount = np.zeros((calendar.size, max(len(self._listed), 1)))
        for s in factory:
            window = calendar.window(s.window, s.softness_weeks)
            amount[:, self._listed.index(s.number)] += s.window.weight * window
        whole = np.maximum(amount.sum(axis=1, keepdims=True), 1.0)
        self._original = (1.0 - assume["source.unlisted"]) * amount / whole
        self._known = sorted({s.number for s in everyone})
        mix = [sum(s.window.weight for s in everyone if s.number == n) for n in self._known]
        named = 1.0 - assume["source.replaced_unlisted"]
        self._replaced = [named * x / sum(mix) for x in mix]

    def _weights(self, original: bool, built: int) -> tuple[list[str], list[float], float]:
        if original:
            named = self._original[built].tolist() if self._listed else []
            return self._listed, named, 1.0 - sum(named)
        return self._known, self._replaced, 1.0 - sum(self._replaced)

    def lengths(self, original: bool, built: int) -> Shares:
        """P(the source number has 2, 3, 4 digits)."""
        numbers, named, rest = self._weights(original, built)
        out = [rest * share for share in self._length]
        for number, p in zip(numbers, named, strict=True):
            if len(number) in LENGTHS:
                out[LENGTHS.index(len(number))] += p
        return out[0], out[1], out[2]

    def most(self, length: int) -> float:
        """The highest P(so many digits) over all weeks and origins; a bound."""
        i = LENGTHS.index(length)
        if any(len(n) == length for n in (*self._listed, *self._known)):
            return 1.0
        return self._length[i]

    def number(self, dice: Dice, original: bool, built: int, length: int) -> str:
        """A source number, given how many digits it has."""
        numbers, named, rest = self._weights(original, built)
        fits = [(n, p) for n, p in zip(numbers, named, strict=True) if len(n) == length]
        others = rest * self._length[LENGTHS.index(length)]
        at = dice.pick(list(accumulate([*(p for _, p in fits), others])))
        if at < len(fits):
            return fits[at][0]
        while True:
            drawn = f"{dice.below(10**length):0{length}d}"
            if drawn not in numbers:
                return drawn


def permuted(supplies: Sequence[Supply]) -> tuple[Supply, ...]:
    """The suppliers of another world: numbers, or windows, passed on to the next supplier.

    In every second class each number becomes the next of all numbers known; in the others every row
    gets the window of the next row of its class.
    """
    numbers = sorted({s.number for s in supplies})
    following = dict(zip(numbers, [*numbers[1:], *numbers[:1]], strict=True))
    classes = list(dict.fromkeys(s.part_class for s in supplies))
    out: list[Supply] = []
    for k, part_class in enumerate(classes):
        rows = [s for s in supplies if s.part_class == part_class]
        if k % 2 == 0:
            out += [replace(s, number=following[s.number]) for s in rows]
        else:
            after = [*rows[1:], *rows[:1]]
            out += [replace(s, window=t.window) for s, t in zip(rows, after, strict=True)]
    return tuple(out)
