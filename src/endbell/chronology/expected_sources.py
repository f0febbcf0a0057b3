"""Which source numbers the deliveries of a group bore: expected numbers and their digits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import prod

import numpy as np

from .plan import Cells
from .sources import Sources
from .time import Array, IntArray

REST = ""
"""Stands for all source numbers that no list names."""


class SourceSplit:
    """The source characters of a delivery, by the number they stand for."""

    def __init__(self, rows: Sequence[Sources], cells: Sequence[Cells]) -> None:
        """``rows``: for every rival, or one that holds for all."""
        self.rows = rows
        self.joint = np.asarray(cells).prod(axis=0)
        self.length = self.joint.shape[0]
        self.everything = float(self.joint.sum(axis=1).prod())
        listed = {n for row in rows for n in (*row.listed, *row.replaced)}
        table = self.joint.tolist()
        self.fits: dict[str, float] = {
            n: prod(row[int(c)] for row, c in zip(table, n, strict=True))
            for n in sorted(listed)
            if len(n) == self.length
        }
        self._rest = [self._unnamed(row.listed, row) for row in rows]
        self._bought = {
            n: p * fit for n, p in rows[0].replaced.items() if (fit := self.fits.get(n, 0.0)) > 0.0
        }
        rest = self._unnamed(tuple(rows[0].replaced), rows[0])
        if rest > 0.0:
            self._bought[REST] = rest * rows[0].replaced_rest

    def _unnamed(self, named: Sequence[str], row: Sources) -> float:
        mine = [n for n in named if len(n) == self.length]
        left = self.everything - sum(self.fits[n] for n in mine)
        if left <= 1e-15 * self.everything:
            return 0.0
        return left * row.length_share[self.length] / (10**self.length - len(mine))

    def originals(self, weight: Array, models: IntArray, weeks: IntArray) -> dict[str, Array]:
        """By number, (M, weeks); ``weight``: the derivative by P(source characters | original)."""
        out: dict[str, Array] = {}
        for i, m in enumerate(models.tolist() if len(self.rows) > 1 else [0] * len(models)):
            row = self.rows[m]
            for s, number in enumerate(row.listed):
                p = self.fits.get(number, 0.0)
                if p > 0.0:
                    into = out.setdefault(number, np.zeros(weight.shape))
                    into[i] = weight[i] * p * row.original[s][weeks]
            if self._rest[m] > 0.0:
                into = out.setdefault(REST, np.zeros(weight.shape))
                into[i] = weight[i] * self._rest[m] * row.original_rest[weeks]
        return out

    def replaced(self, weight: float) -> dict[str, float]:
        """The same for what a repairer bought."""
        return {n: weight * p for n, p in self._bought.items()}

    def scaled(self, number: float) -> dict[str, float]:
        """An expected number of parts that a repairer bought, by source number."""
        found = self.replaced(1.0)
        whole = sum(found.values())
        return {n: number * p / whole for n, p in found.items()} if whole > 0 else {}

    def digits(self, numbers: Mapping[str, float]) -> Array:
        """Expected digits by place, (length, 10), from expected numbers of deliveries by source."""
        out = np.zeros(self.joint.shape)
        for number, n in numbers.items():
            if number != REST:
                for place, c in enumerate(number):
                    out[place, int(c)] += n
        rest = numbers.get(REST, 0.0)
        if rest > 0.0:
            share = self.joint / self.joint.sum(axis=1, keepdims=True) * self.everything
            for number, fit in self.fits.items():
                for place, c in enumerate(number):
                    share[place, int(c)] -= fit
            share = np.maximum(share, 0.0)
            out += rest * share / np.maximum(share.sum(axis=1, keepdims=True), 1e-300)
        return out


def add_numbers(
    into: dict[str, Array] | dict[str, float], more: Mapping[str, Array | float]
) -> None:
    for key, value in more.items():
        into[key] = into[key] + value if key in into else value  # type: ignore[operator]
