"""Units: the factors of the likelihood that are independent given model, build week and stock age.

Every unit answers the same few questions with arrays of shape (M or 1, U or 1, size).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from .deliveries import Deliveries
from .time import Array, IntArray
from .undated import Undated

Origins = tuple[Array, Array, Array]


class Unit(Protocol):
    """One factor. ``parts`` and ``marks`` (numbers) say what it is made of."""

    @property
    def assembly(self) -> str: ...
    @property
    def parts(self) -> tuple[str, ...]: ...
    @property
    def marks(self) -> tuple[int, ...]: ...
    @property
    def values(self) -> Array: ...
    def all_original(self, parts: Collection[str]) -> Array: ...
    def origins(self, part: str) -> Origins: ...
    def on(self, weeks: IntArray) -> Unit:
        """The same unit on some build weeks only."""
        ...


@dataclass(frozen=True, eq=False)
class AmpUnit:
    """Something that concerns the amp whatever its parts: a paper, which parts it has."""

    assembly: str
    marks: tuple[int, ...]
    values: Array
    parts: tuple[str, ...] = ()

    def all_original(self, parts: Collection[str]) -> Array:
        return self.values

    def origins(self, part: str) -> Origins:
        raise KeyError(part)

    def on(self, weeks: IntArray) -> Unit:
        return AmpUnit(self.assembly, self.marks, _cut(self.values, weeks), self.parts)


@dataclass(frozen=True, eq=False)
class UndatedUnit:
    """Undated parts."""

    assembly: str
    marks: tuple[int, ...]
    undated: Undated

    @property
    def parts(self) -> tuple[str, ...]:
        return tuple(p.part for p in self.undated.parts)

    @cached_property
    def values(self) -> Array:
        return self.undated.total()

    def all_original(self, parts: Collection[str]) -> Array:
        return self.undated.all_original(parts)

    def origins(self, part: str) -> Origins:
        return self.undated.origins(part)

    def on(self, weeks: IntArray) -> Unit:
        return UndatedUnit(self.assembly, self.marks, self.undated.on(weeks))


@dataclass(frozen=True, eq=False)
class DatedUnit:
    """The dated parts of one class in one assembly; one group of deliveries for each model that differs.

    ``groups``: one for all models, or one a model.
    """

    assembly: str
    marks: tuple[int, ...]
    groups: tuple[Deliveries, ...]

    @property
    def parts(self) -> tuple[str, ...]:
        return tuple(p for kind in self.groups[0].kinds for p in kind.parts)

    @cached_property
    def values(self) -> Array:
        return self.each(lambda g: g.total())

    def each(self, ask: Callable[[Deliveries], Array]) -> Array:
        """The answer of every model's group, stacked: shape (M or 1, U, size)."""
        answers = {g: ask(g) for g in dict.fromkeys(self.groups)}
        if len(answers) == 1:
            return answers[self.groups[0]][None]
        return np.stack([answers[g] for g in self.groups])

    def all_original(self, parts: Collection[str]) -> Array:
        mine = [p for p in self.parts if p in parts]
        return self.each(lambda g: g.all_original(mine))

    def origins(self, part: str) -> Origins:
        answers = {g: g.origins(part) for g in dict.fromkeys(self.groups)}
        rows = list(answers.values()) if len(answers) == 1 else [answers[g] for g in self.groups]
        original, later, period = (np.stack(s) for s in zip(*rows, strict=True))
        return original, later, period

    def on(self, weeks: IntArray) -> DatedUnit:
        cut = {g: g.on(weeks) for g in dict.fromkeys(self.groups)}
        return DatedUnit(self.assembly, self.marks, tuple(cut[g] for g in self.groups))


@dataclass(frozen=True, eq=False)
class RepairedUnit:
    """A part with a known replacement: the ordinary account with a small weight, else the ticket's.

    ``ticket``: likelihood of what was seen if the part was put in at that repair, shape (M or 1, 1, size).
    """

    ordinary: Unit
    ticket: Array
    leak: float

    @property
    def assembly(self) -> str:
        return self.ordinary.assembly

    @property
    def parts(self) -> tuple[str, ...]:
        return self.ordinary.parts

    @property
    def marks(self) -> tuple[int, ...]:
        return self.ordinary.marks

    @cached_property
    def values(self) -> Array:
        return self.leak * self.ordinary.values + (1.0 - self.leak) * self.ticket

    def all_original(self, parts: Collection[str]) -> Array:
        if not any(p in parts for p in self.parts):
            return self.values
        return self.leak * self.ordinary.all_original(parts)

    def origins(self, part: str) -> Origins:
        original, later, period = self.ordinary.origins(part)
        return (
            self.leak * original,
            self.leak * later + (1.0 - self.leak) * self.ticket,
            self.leak * period,
        )


    def on(self, weeks: IntArray) -> Unit:
        return RepairedUnit(self.ordinary.on(weeks), _cut(self.ticket, weeks), self.leak)


def _cut(a: Array, weeks: IntArray) -> Array:
    return a[:, :, weeks] if a.shape[2] > 1 else a


def unit_of(part: str, units: Sequence[Unit]) -> Unit:
    """The unit that holds a part."""
    return next(u for u in units if part in u.parts)
