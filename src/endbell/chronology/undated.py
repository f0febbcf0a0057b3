"""Parts that bear no date of their own, alone or linked by features that changed together."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product

import numpy as np

from .categories import Category, joint_seen
from .time import Array, IntArray, on_weeks


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
        """The same on some build weeks only (grouped features are summed before, on all of
        them).
        """
        return UndatedPart(
            self.part,
            on_weeks(self.original, weeks),
            on_weeks(self.later, weeks),
            on_weeks(self.period, weeks),
            self.grouped,
        )


Pattern = tuple[bool, ...]
"""Which parts are original."""


class Undated:
    """Parts whose features share groups, summed over their origins together. Shape (M or 1, 1,
    size).
    """

    def __init__(
        self, parts: Sequence[UndatedPart], features: Mapping[Pattern, Array] | None = None
    ) -> None:
        """``features``: P(all grouped features | which are original), where it is known already."""
        self.parts = tuple(parts)
        self.features = feature_patterns(self.parts) if features is None else features

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The parts' ids."""
        return tuple(p.part for p in self.parts)

    def total(self) -> Array:
        """The likelihood of everything seen here."""
        return self._total

    @cached_property
    def _total(self) -> Array:
        return self._sum({})

    def all_original(self, parts: Collection[str]) -> Array:
        """The likelihood with all of ``parts`` original."""
        return self._sum({i: ("original",) for i, p in enumerate(self.parts) if p.part in parts})

    def origins(self, part: str) -> tuple[Array, Array, Array]:
        """The likelihood with the part original, later, period."""
        i = next(i for i, p in enumerate(self.parts) if p.part == part)
        return (
            self._sum({i: ("original",)}),
            self._sum({i: ("later",)}),
            self._sum({i: ("period",)}),
        )

    def on(self, weeks: IntArray) -> Undated:
        """The same parts on some build weeks only."""
        return Undated(
            [p.on(weeks) for p in self.parts],
            {k: on_weeks(a, weeks) for k, a in self.features.items()},
        )

    def _sum(self, only: dict[int, tuple[str, ...]]) -> Array:
        total: Array = np.zeros((1, 1))
        every = ("original", "later", "period")
        states = [
            (_state(p, True, only.get(i, every)), _state(p, False, only.get(i, every)))
            for i, p in enumerate(self.parts)
        ]
        for pattern, features in self.features.items():
            chosen = [
                yes if original else no for original, (yes, no) in zip(pattern, states, strict=True)
            ]
            term = features
            for state in chosen:
                if state is None:
                    break
                term = term * state
            else:
                total = total + term
        return total[:, None, :]


def feature_patterns(parts: Sequence[UndatedPart]) -> Mapping[Pattern, Array]:
    """P(all grouped features seen | which parts are original), for every pattern; (M or 1, size or
    1).
    """
    groups: dict[str, list[tuple[int, Grouped]]] = {}
    for i, p in enumerate(parts):
        for g in p.grouped:
            groups.setdefault(g.group, []).append((i, g))
    out: dict[Pattern, Array] = {}
    for pattern in product((True, False), repeat=len(parts)):
        term: Array = np.ones((1, 1))
        for seen in groups.values():
            originals = [(g.category, g.value) for i, g in seen if pattern[i]]
            if originals:
                term = term * joint_seen(originals)
            for i, g in seen:
                if not pattern[i]:
                    term = term * g.category.replaced(g.value)
        out[pattern] = term
    return out


def _state(p: UndatedPart, original: bool, allowed: Sequence[str]) -> Array | None:
    """Weight of a part being original (or not), None if that is nothing."""
    if original:
        found = p.original if "original" in allowed else None
    else:
        rest = [a for name, a in (("later", p.later), ("period", p.period)) if name in allowed]
        found = sum(rest[1:], rest[0]) if rest else None
    return found if found is not None and found.any() else None
