"""Which source number a delivery bears: docs/model.md, section 5. Sums over all numbers are exact."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..marks import Vector
from ..reference.types import Reference, Supply
from .time import Array, Grid

LENGTHS = (2, 3, 4)


@dataclass(frozen=True, eq=False)
class Sources:
    """P(source | original, B) and P(source | replaced) for one class and model.

    ``listed``: numbers; ``original``: shape (len(listed), size); ``original_rest``: what unlisted
    numbers share, shape (size,); ``replaced``/``replaced_rest`` the same without B; ``length_share``
    by number of digits.
    """

    listed: tuple[str, ...]
    original: Array
    original_rest: Array
    replaced: tuple[float, ...]
    replaced_rest: float
    length_share: Mapping[int, float]

    def weigh(self, cells: Sequence[tuple[Vector, ...]]) -> tuple[Array, float]:
        """sum over sources of P(source | ...) * product of P(cells | source), original and replaced.

        ``cells``: the source characters of every part of a delivery that bears a source, all of one
        length.  Returns shape (size,) and a number.
        """
        length = len(cells[0])
        joint = np.asarray(cells).prod(axis=0)
        everything = float(joint.sum(axis=1).prod())
        rows = joint.tolist()
        original: Array | float = 0.0
        replaced = 0.0
        named = 0
        named_mass = 0.0
        for s, number in enumerate(self.listed):
            if len(number) != length:
                continue
            named += 1
            fit = 1.0
            for row, ch in zip(rows, number, strict=True):
                fit *= row[int(ch)]
            if fit > 0.0:
                named_mass += fit
                original = original + fit * self.original[s]
                replaced += fit * self.replaced[s]
        unnamed = everything - named_mass
        if unnamed > 1e-15 * everything:
            unnamed *= self.length_share[length] / (10**length - named)
            original = original + unnamed * self.original_rest
            replaced += unnamed * self.replaced_rest
        return np.asarray(original), replaced


@dataclass(frozen=True, eq=False)
class RivalSources:
    """The sources of a class for every rival: one row if they all agree, else one a model."""

    rows: tuple[Sources, ...]

    def weigh(self, cells: Sequence[tuple[Vector, ...]]) -> tuple[Array, Array]:
        """As :meth:`Sources.weigh`, stacked: shapes (M or 1, size) and (M or 1,)."""
        found: dict[int, tuple[Array, float]] = {}
        for row in self.rows:
            if id(row) not in found:
                found[id(row)] = row.weigh(cells)
        original, replaced = zip(*(found[id(row)] for row in self.rows), strict=True)
        return np.stack(original), np.array(replaced)


def supplies_of(part_class: str, model: str | None, reference: Reference) -> tuple[Supply, ...]:
    """The suppliers' rows for a class that are open to a model (None: rows open to all)."""
    return tuple(
        s
        for s in reference.supplies
        if s.part_class == part_class and (not s.models or model in s.models)
    )


def sources_for(rows: Sequence[Supply], grid: Grid, assume: Mapping[str, float]) -> Sources:
    """The sources of a class from its suppliers' rows."""
    shares = {n: assume[f"source.length_share.{n}"] for n in LENGTHS}
    whole = sum(shares.values())
    length_share = {n: v / whole for n, v in shares.items()}
    numbers = tuple(sorted({s.number for s in rows}))
    amount = np.zeros((len(numbers), grid.size))
    for s in rows:
        window = grid.soft_window(s.window, s.softness_weeks)
        amount[numbers.index(s.number)] += s.window.weight * window
    leak, leak_replaced = assume["source.unlisted"], assume["source.replaced_unlisted"]
    if numbers:
        original = (1.0 - leak) * amount / np.maximum(amount.sum(axis=0), 1.0)
        mix = [sum(s.window.weight for s in rows if s.number == n) for n in numbers]
        replaced = tuple((1.0 - leak_replaced) * v / sum(mix) for v in mix)
        replaced_rest = leak_replaced
    else:
        original, replaced, replaced_rest = amount, (), 1.0
    rest = 1.0 - original.sum(axis=0)
    return Sources(numbers, original, rest, replaced, replaced_rest, length_share)
