"""Which source number a delivery bears: docs/model.md, section 5. Sums over all numbers are
exact.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..marks import Vector
from ..reference.types import Reference, Supply
from . import blocks
from .time import Array, Grid

LENGTHS = (2, 3, 4)


@dataclass(frozen=True, eq=False)
class Sources:
    """P(source | original, B) and P(source | replaced) for one class and model.

    ``listed``: numbers a factory bought from; ``original``: shape (len(listed), size);
    ``original_rest``: what the other numbers share, shape (size,); ``replaced``: by number, for all
    suppliers of the class; ``replaced_rest``; ``length_share`` by number of digits.
    """

    listed: tuple[str, ...]
    original: Array
    original_rest: Array
    replaced: Mapping[str, float]
    replaced_rest: float
    length_share: Mapping[int, float]

    def weigh(self, cells: Sequence[tuple[Vector, ...]]) -> tuple[Array, float]:
        """sum over sources of P(source | ...) * product of P(cells | source), original and
        replaced.

        ``cells``: the source characters of every part of a delivery that bears a source, all of one
        length.  Returns shape (size,) and a number.
        """
        length = len(cells[0])
        joint = np.asarray(cells).prod(axis=0)
        everything = float(joint.sum(axis=1).prod())
        rows = joint.tolist()

        def fit(number: str) -> float:
            out = 1.0
            for row, ch in zip(rows, number, strict=True):
                out *= row[int(ch)]
            return out

        original: Array = np.zeros(1)
        named = [(s, fit(n)) for s, n in enumerate(self.listed) if len(n) == length]
        for s, p in named:
            if p > 0.0:
                original = original + p * self.original[s]
        original = (
            original + self._unnamed([p for _, p in named], everything, length) * self.original_rest
        )
        bought = [(n, fit(n)) for n in self.replaced if len(n) == length]
        replaced = sum((p * self.replaced[n] for n, p in bought), 0.0)
        replaced += self._unnamed([p for _, p in bought], everything, length) * self.replaced_rest
        return original, replaced

    def _unnamed(self, named: Sequence[float], everything: float, length: int) -> float:
        """Mean fit of the numbers of a length that are not named, times that length's share."""
        left = everything - sum(named)
        if left <= 1e-15 * everything:
            return 0.0
        return left * self.length_share[length] / (10**length - len(named))


@dataclass(frozen=True, eq=False)
class Sourced:
    """How likely the source characters of a delivery are.

    ``original``: by model (one row if they agree) and week, (M or 1, size); ``replaced``: a number,
    whoever the repairer was; ``bound``: the highest original over models, (blocks,).
    """

    original: Array
    replaced: float
    bound: Array
    originals: bool

    @property
    def possible(self) -> bool:
        return self.originals or self.replaced > 0.0


@dataclass(frozen=True, eq=False)
class RivalSources:
    """The sources of a class for every rival: one row if they all agree, else one a model."""

    rows: tuple[Sources, ...]

    @property
    def nbytes(self) -> int:
        return sum(int(r.original.nbytes + r.original_rest.nbytes) for r in set(self.rows))

    def weigh(self, cells: Sequence[tuple[Vector, ...]]) -> Sourced:
        """As :meth:`Sources.weigh`, for every rival; repairers don't ask the model."""
        found: dict[int, tuple[Array, float]] = {}
        for row in self.rows:
            if id(row) not in found:
                found[id(row)] = row.weigh(cells)
        original = [found[id(row)][0] for row in self.rows]
        if all(np.array_equal(a, original[0]) for a in original[1:]):
            original = original[:1]
        stacked = np.stack(original)
        return Sourced(
            stacked,
            found[id(self.rows[0])][1],
            blocks.highest(stacked.max(axis=0)),
            bool(stacked.any()),
        )


def supplies_of(part_class: str, model: str | None, reference: Reference) -> tuple[Supply, ...]:
    """The suppliers' rows for a class that are open to a model (None: rows open to all)."""
    return tuple(
        s
        for s in reference.supplies
        if s.part_class == part_class and (not s.models or model in s.models)
    )


def sources_for(
    rows: Sequence[Supply], everyone: Sequence[Supply], grid: Grid, assume: Mapping[str, float]
) -> Sources:
    """The sources of a class from its suppliers' rows.

    ``rows``: those open to the model, which a factory bought from; ``everyone``: all rows of the
    class, which a repairer buys from.
    """
    shares = {n: assume[f"source.length_share.{n}"] for n in LENGTHS}
    whole = sum(shares.values())
    length_share = {n: v / whole for n, v in shares.items()}
    leak, leak_replaced = assume["source.unlisted"], assume["source.replaced_unlisted"]
    numbers = tuple(sorted({s.number for s in rows}))
    amount = np.zeros((len(numbers), grid.size))
    for s in rows:
        window = grid.soft_window(s.window, s.softness_weeks)
        amount[numbers.index(s.number)] += s.window.weight * window
    original = (1.0 - leak) * amount / np.maximum(amount.sum(axis=0), 1.0)
    known = tuple(sorted({s.number for s in everyone}))
    mix = [sum(s.window.weight for s in everyone if s.number == n) for n in known]
    whole_mix = sum(mix)
    replaced = {n: (1.0 - leak_replaced) * v / whole_mix for n, v in zip(known, mix, strict=True)}
    return Sources(
        numbers,
        original,
        1.0 - original.sum(axis=0),
        replaced,
        leak_replaced if known else 1.0,
        length_share,
    )
