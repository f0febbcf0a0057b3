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
    by number of digits; ``key``: what it was made from.
    """

    listed: tuple[str, ...]
    original: Array
    original_rest: Array
    replaced: tuple[float, ...]
    replaced_rest: float
    length_share: Mapping[int, float]
    key: tuple[object, ...]

    def weigh(self, cells: Sequence[tuple[Vector, ...]]) -> tuple[Array, float]:
        """sum over sources of P(source | ...) * product of P(cells | source), original and replaced.

        ``cells``: the source characters of every part of a delivery that bears a source, all of one
        length.  Returns shape (size,) and a number.
        """
        length = len(cells[0])
        joint = [np.prod([c[i] for c in cells], axis=0) for i in range(length)]
        everything = float(np.prod([j.sum() for j in joint]))
        original = np.zeros_like(self.original_rest)
        replaced = 0.0
        named = 0
        named_mass = 0.0
        for s, number in enumerate(self.listed):
            if len(number) != length:
                continue
            named += 1
            fit = 1.0
            for j, ch in zip(joint, number, strict=True):
                fit *= float(j[int(ch)])
            if fit > 0.0:
                named_mass += fit
                original += fit * self.original[s]
                replaced += fit * self.replaced[s]
        unnamed = max(everything - named_mass, 0.0) * self.length_share[length] / (10**length - named)
        if unnamed < 1e-15 * everything:
            unnamed = 0.0
        original += unnamed * self.original_rest
        replaced += unnamed * self.replaced_rest
        return original, replaced


def supplies_of(part_class: str, model: str | None, reference: Reference) -> tuple[Supply, ...]:
    """The suppliers' rows for a class that are open to a model (None: rows open to all)."""
    return tuple(
        s for s in reference.supplies
        if s.part_class == part_class and (not s.models or model in s.models)
    )


def sources_for(
    part_class: str, rows: Sequence[Supply], grid: Grid, assume: Mapping[str, float]
) -> Sources:
    """The sources of a class from its suppliers' rows."""
    shares = {n: assume[f"source.length_share.{n}"] for n in LENGTHS}
    whole = sum(shares.values())
    length_share = {n: v / whole for n, v in shares.items()}
    numbers = tuple(sorted({s.number for s in rows}))
    amount = np.zeros((len(numbers), grid.size))
    for s in rows:
        amount[numbers.index(s.number)] += s.window.weight * grid.soft_window(s.window, s.softness_weeks)
    leak, leak_replaced = assume["source.unlisted"], assume["source.replaced_unlisted"]
    if numbers:
        original = (1.0 - leak) * amount / np.maximum(amount.sum(axis=0), 1.0)
        mix = [sum(s.window.weight for s in rows if s.number == n) for n in numbers]
        replaced = tuple((1.0 - leak_replaced) * v / sum(mix) for v in mix)
        replaced_rest = leak_replaced
    else:
        original, replaced, replaced_rest = amount, (), 1.0
    key = (part_class, grid.size, leak, leak_replaced, tuple(shares.values()), tuple(rows))
    return Sources(
        numbers, original, 1.0 - original.sum(axis=0), replaced, replaced_rest, length_share, key
    )
