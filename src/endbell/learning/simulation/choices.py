"""Features and measured quantities: which value a part shows (docs/model.md, section 8)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import MAXYEAR, MINYEAR
from itertools import accumulate

import numpy as np

from ...reference.types import Alternative, Feature, FeatureValue, Quantity
from .calendar import Calendar, Weeks
from .dice import Dice

ABSENT = "absent"
_NOTHING = 1e-200


class Choices:
    """The values of one feature or quantity, and how they are drawn."""

    def __init__(
        self,
        rows: Sequence[FeatureValue | Alternative],
        thing: Feature | Quantity,
        leak: float,
        models: Sequence[str | None],
        runs: Sequence[Weeks],
        calendar: Calendar,
        *,
        absent: bool,
    ) -> None:
        """``runs``: R_m by model; ``absent``: whether 'absent' is a value, listed or not."""
        self.values = list(dict.fromkeys(r.value for r in rows))
        if absent and ABSENT not in self.values:
            self.values.append(ABSENT)
        self.leak = leak
        self.cost = thing.cost_to_fake
        self._rows, self._models, self._calendar = tuple(rows), models, calendar
        self._runs = runs
        self._softness = thing.softness_weeks
        self._tables: dict[int, Weeks] = {}
        self._match: dict[int, list[float]] = {}

    def table(self, m: int) -> Weeks:
        """P(value | original, model m, B); shape (size, n)."""
        if m not in self._tables:
            n = len(self.values)
            amount = np.zeros((self._calendar.size, n))
            for row in self._rows:
                if not row.models or self._models[m] in row.models:
                    window = self._calendar.window(row.window, self._softness)
                    amount[:, self.values.index(row.value)] += row.window.weight * window
            whole = amount.sum(axis=1, keepdims=True)
            known = whole >= _NOTHING
            share = np.where(known, amount / np.where(known, whole, 1.0), 1.0 / n)
            self._tables[m] = (1.0 - self.leak) * share + self.leak / n
            if not amount.any():
                self._tables[m][:] = 1.0 / n
        return self._tables[m]

    def open_models(self, value: str) -> set[int]:
        """The models on which a value is listed at all."""
        rows = [r for r in self._rows if r.value == value]
        return {m for m, name in enumerate(self._models) for r in rows if _open(r, name)}

    def years(self, value: str) -> list[tuple[int, int]]:
        """The years in which a value is listed: (first, last)."""
        windows = [r.window for r in self._rows if r.value == value]
        return [
            (w.first.year if w.first else MINYEAR, w.last.year if w.last else MAXYEAR)
            for w in windows
        ]

    def original(self, m: int, built: int, u: float) -> int:
        """Index of the value at ``u`` of the cumulative distribution of an original."""
        return _at(self.table(m)[built].tolist(), u)

    def replaced(self, dice: Dice, m: int, runs: Weeks | None) -> int:
        """Index of a replacement's value; ``runs``: R_m where it is not the packs' own."""
        if not dice.chance(1.0 - self.cost):
            return dice.below(len(self.values))
        return _at(self._looks_right(m, runs), dice.u())

    def _looks_right(self, m: int, runs: Weeks | None) -> list[float]:
        """What someone would fit who wants the part to look right for model m."""
        if runs is not None:
            return (runs @ self.table(m)).tolist()
        if m not in self._match:
            self._match[m] = (self._runs[m] @ self.table(m)).tolist()
        return self._match[m]


def _open(row: FeatureValue | Alternative, model: str | None) -> bool:
    return not row.models or model in row.models


def _at(weights: list[float], u: float) -> int:
    for i, high in enumerate(accumulate(weights)):
        if u < high:
            return i
    return len(weights) - 1
