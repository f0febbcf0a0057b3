"""Parts that bear no date of their own, alone or linked by features that changed together."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from .categories import Category, joint_seen
from .time import Array, IntArray


@dataclass(frozen=True, eq=False)
class Grouped:
    """A feature seen on a part, in a group of features that changed together."""

    group: str
    category: Category
    value: str


@dataclass(frozen=True, eq=False)
class UndatedPart:
    """A part: prior times what its marks say under each origin; arrays (M or 1, size) or (M, 1)."""

    part: str
    original: Array
    later: Array
    period: Array
    grouped: tuple[Grouped, ...] = field(default=())

    def on(self, weeks: IntArray) -> UndatedPart:
        return UndatedPart(
            self.part, _cut(self.original, weeks), _cut(self.later, weeks), _cut(self.period, weeks),
            tuple(Grouped(g.group, g.category.on(weeks), g.value) for g in self.grouped),
        )


class Undated:
    """Parts whose features share groups, summed over their origins together. Shape (M or 1, 1, size)."""

    def __init__(self, parts: Sequence[UndatedPart]) -> None:
        self.parts = tuple(parts)
        self._groups: dict[str, list[tuple[int, Grouped]]] = {}
        for i, p in enumerate(self.parts):
            for g in p.grouped:
                self._groups.setdefault(g.group, []).append((i, g))

    def total(self) -> Array:
        """Likelihood of everything seen on these parts."""
        return self._sum({})

    def all_original(self, parts: Collection[str]) -> Array:
        """The likelihood with all of ``parts`` original."""
        return self._sum({i: ("original",) for i, p in enumerate(self.parts) if p.part in parts})

    def origins(self, part: str) -> tuple[Array, Array, Array]:
        """The likelihood with the part original, later, period."""
        i = next(i for i, p in enumerate(self.parts) if p.part == part)
        return (
            self._sum({i: ("original",)}), self._sum({i: ("later",)}), self._sum({i: ("period",)})
        )

    def on(self, weeks: IntArray) -> Undated:
        """The same parts on some build weeks only."""
        return Undated([p.on(weeks) for p in self.parts])

    def _sum(self, only: dict[int, tuple[str, ...]]) -> Array:
        total: Array = np.zeros((1, 1))
        for pattern in product((True, False), repeat=len(self.parts)):
            term: Array | None = np.ones((1, 1))
            for i, (original, p) in enumerate(zip(pattern, self.parts, strict=True)):
                allowed = only.get(i, ("original", "later", "period"))
                term = term * _state(p, original, allowed) if term is not None else None
                if term is not None and not np.any(term):
                    term = None
            if term is None:
                continue
            for seen in self._groups.values():
                originals = [(g.category, g.value) for i, g in seen if pattern[i]]
                if originals:
                    term = term * joint_seen(originals)
                for i, g in seen:
                    if not pattern[i]:
                        term = term * g.category.replaced(g.value)
            total = total + term
        return total[:, None, :]


def _state(p: UndatedPart, original: bool, allowed: Sequence[str]) -> Array:
    if original:
        return p.original if "original" in allowed else np.zeros((1, 1))
    out = np.zeros((1, 1))
    if "later" in allowed:
        out = out + p.later
    if "period" in allowed:
        out = out + p.period
    return out


def _cut(a: Array, weeks: IntArray) -> Array:
    return a[:, weeks] if a.shape[1] > 1 else a
