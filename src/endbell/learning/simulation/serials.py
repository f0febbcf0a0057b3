"""Serial numbers: every number of every range is as likely as any other beforehand.

The model gives a density over weeks for each number, not a probability of numbers for each week: so
a truth is kept in proportion to the density summed over all numbers, and the number is then drawn
by its part of that sum.  All numbers are stamped with leading zeros, as wide as the highest.
Where digits are unclear the engine takes neighbouring numbers together, within half a spread; here
every number stands for itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import sqrt
from math import tau as circle

import numpy as np

from ...marks.tables import SerialRange
from .calendar import START, Calendar
from .dice import Dice
from .texts import DIGITS, Eye

_REACH = 9.0  # standard deviations


class Serials:
    """The ranges of the packs as sums that numbers can be drawn by."""

    def __init__(
        self,
        ranges: Sequence[SerialRange],
        models: Sequence[str | None],
        calendar: Calendar,
        assume: Mapping[str, float],
        separators: str,
    ) -> None:
        self._ranges = tuple(ranges)
        self._leak = assume["serial.leak"]
        self._size = calendar.size
        self._width = len(str(max(r.last_number for r in ranges)))
        skipped = separators + ","
        self._prefixes = ["".join(c for c in r.prefix.upper() if c not in skipped) for r in ranges]
        self._weeks = [_expected(r) for r in ranges]
        self._count = sum(len(w) for w in self._weeks)
        self._sums = np.array([self._summed(i) for i in range(len(ranges))])
        self._open = [[not r.models or m in r.models for r in ranges] for m in models]
        flat = self._leak * self._count / self._size
        self._kept = [
            (1.0 - self._leak) * self._sums[np.array(o)].sum(axis=0) + flat for o in self._open
        ]
        self._most = max(float(max(k.max() for k in self._kept)), self._count / self._size)

    def keep(self, dice: Dice, original: bool, m: int, built: int) -> None:
        """Go on with the probability of any number at all."""
        here = float(self._kept[m][built]) if original else self._count / self._size
        dice.keep(here / self._most)

    def number(self, dice: Dice, original: bool, m: int, built: int) -> tuple[str, str]:
        """Prefix and padded number."""
        signal = [0.0] * len(self._ranges)
        if original:
            weights = (1.0 - self._leak) * self._sums[:, built]
            signal = [w if o else 0.0 for w, o in zip(weights.tolist(), self._open[m], strict=True)]
        flat = (self._leak if original else 1.0) * self._count / self._size
        r = dice.weighted([*signal, flat])
        if r < len(self._ranges):
            return self._written(r, self._near(dice, r, built))
        at = dice.below(self._count)
        for r, weeks in enumerate(self._weeks):
            if at < len(weeks):
                return self._written(r, at)
            at -= len(weeks)
        raise AssertionError("counted wrongly")

    def text(
        self, dice: Dice, eye: Eye, written: tuple[str, str], unread: Sequence[int], legibility: str
    ) -> str:
        """The serial as seen; ``unread``: which digits can't be read."""
        prefix, digits = written
        seen = "".join(eye.plain(dice, c, legibility) for c in prefix)
        for i, c in enumerate(digits):
            seen += "?" if i in unread else eye.plain(dice, c, legibility)
        return seen

    @property
    def inner(self) -> Sequence[int]:
        """The digits that stand at no end of the text."""
        first = 0 if all(self._prefixes) else 1
        return range(first, self._width - 1)

    @property
    def can_wear(self) -> bool:
        """Whether every prefix is made of letters and digits, which can be mistaken."""
        letters = "".join(self._prefixes)
        return all("A" <= c <= "Z" or c in DIGITS for c in letters)

    def _written(self, r: int, at: int) -> tuple[str, str]:
        return self._prefixes[r], f"{self._ranges[r].first_number + at:0{self._width}d}"

    def _near(self, dice: Dice, r: int, built: int) -> int:
        """Place in range r of a number, by the density of its expected week at ``built``."""
        weeks, spread = self._weeks[r], self._ranges[r].spread_weeks
        low = int(np.searchsorted(weeks, built - _REACH * spread))
        high = int(np.searchsorted(weeks, built + _REACH * spread, side="right"))
        z = (weeks[low:high] - built) / spread
        sums = np.cumsum(np.exp(-0.5 * z * z))
        return low + int(np.searchsorted(sums, dice.u() * sums[-1], side="right"))

    def _summed(self, r: int) -> np.ndarray:
        """The density of every week, summed over the numbers of a range; shape (size,)."""
        spread = self._ranges[r].spread_weeks
        out = np.zeros(self._size)
        if spread <= 0:
            return out
        found, counts = np.unique(self._weeks[r], return_counts=True)
        at = np.arange(self._size)
        for week, n in zip(found.tolist(), counts.tolist(), strict=True):
            reach = int(_REACH * spread) + 1
            low, high = max(week - reach, 0), min(week + reach + 1, self._size)
            if high > low:
                z = (at[low:high] - week) / spread
                out[low:high] += n * np.exp(-0.5 * z * z) / (spread * sqrt(circle))
        return out


def _expected(r: SerialRange) -> np.ndarray:
    """Expected week of every number of a range, on the straight line through it."""
    steps = r.last_number - r.first_number
    days = (r.last - r.first).days
    along = np.arange(steps + 1) * days / steps if steps else np.array([days / 2])
    after = (r.first - START).days
    return (after + np.rint(along).astype(np.int64)) // 7
