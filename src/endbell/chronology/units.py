"""Units: the factors of the likelihood that are independent given model, build week and stock age.

A unit is first a description of the whole grid, with a bound by week; ``on`` evaluates it on the
weeks
that matter.  All answers have the axes (model or 1, stock age or 1, week).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from .deliveries import Deliveries
from .plan import Plan
from .time import Array, IntArray
from .undated import Undated
from .workspace import Same

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
    def values(self) -> Array:
        """The likelihood of everything seen in the unit."""
        ...

    @property
    def bound(self) -> Array:
        """An upper bound of ``values`` by week, (weeks,)."""
        ...

    @property
    def a_probability(self) -> bool:
        """Whether the values are known to be at most one (densities may lie above)."""
        ...

    def all_original(self, parts: Collection[str]) -> Array:
        """The likelihood with the named parts original."""
        ...

    def original(self, part: str) -> Array:
        """The likelihood with the part original."""
        ...

    def origins(self, part: str) -> Origins:
        """The likelihood with the part original, later, period."""
        ...

    def on(self, weeks: IntArray) -> Unit:
        """The same unit on some of its weeks only."""
        ...


@dataclass(frozen=True, eq=False)
class AmpUnit:
    """Something that concerns the amp whatever its parts: a paper, which parts it has."""

    assembly: str
    marks: tuple[int, ...]
    values: Array
    parts: tuple[str, ...] = ()

    @property
    def bound(self) -> Array:
        return self.values.max(axis=(0, 1))

    @property
    def a_probability(self) -> bool:
        return bool(self.values.max() <= 1.0)

    def all_original(self, parts: Collection[str]) -> Array:
        return self.values

    def original(self, part: str) -> Array:
        raise KeyError(part)

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
    known: Array | None = None  # the values, where they have been worked out already

    @property
    def parts(self) -> tuple[str, ...]:
        return self.undated.names

    @property
    def values(self) -> Array:
        return self.undated.total() if self.known is None else self.known

    @property
    def bound(self) -> Array:
        return self.values.max(axis=(0, 1))

    @property
    def a_probability(self) -> bool:
        return bool(self.values.max() <= 1.0)

    def all_original(self, parts: Collection[str]) -> Array:
        return self.undated.all_original(parts)

    def original(self, part: str) -> Array:
        return self.undated.all_original((part,))

    def origins(self, part: str) -> Origins:
        return self.undated.origins(part)

    def on(self, weeks: IntArray) -> Unit:
        return UndatedUnit(
            self.assembly, self.marks, self.undated.on(weeks), _cut(self.values, weeks)
        )


@dataclass(frozen=True, eq=False)
class DatedUnit:
    """The dated parts of one class in one assembly. ``evaluated`` None: not yet, on the whole
    grid.
    """

    assembly: str
    part_class: str
    marks: tuple[int, ...]
    plan: Plan
    evaluated: Deliveries | None = None

    @property
    def parts(self) -> tuple[str, ...]:
        return self.plan.parts

    @cached_property
    def deliveries(self) -> Deliveries:
        return self.evaluated or Deliveries.at(self.plan, np.arange(self.plan.size))

    def _at(self, weeks: IntArray) -> Deliveries:
        key = ("at", Same(self.plan), weeks.tobytes())
        return self.plan.workspace.get(key, lambda: Deliveries.at(self.plan, weeks))

    @property
    def values(self) -> Array:
        return self.deliveries.total()

    @property
    def bound(self) -> Array:
        return self.plan.remember("bound", lambda: Deliveries.highest(self.plan).total()[0, 0])

    @property
    def a_probability(self) -> bool:
        return self.plan.a_probability

    def all_original(self, parts: Collection[str]) -> Array:
        return self.deliveries.all_original([p for p in self.parts if p in parts])

    def original(self, part: str) -> Array:
        return self.deliveries.original(part)

    def origins(self, part: str) -> Origins:
        return self.deliveries.origins(part)

    def on(self, weeks: IntArray) -> DatedUnit:
        held = "deliveries" in self.__dict__ or self.evaluated is not None
        found = self.deliveries.on(weeks) if held else self._at(weeks)
        return DatedUnit(self.assembly, self.part_class, self.marks, self.plan, found)


@dataclass(frozen=True, eq=False)
class RepairedUnit:
    """A part with a known replacement: the ordinary account with a small weight, else the ticket's.

    ``ticket``: likelihood of what was seen if the part was put in at that repair.
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

    @property
    def values(self) -> Array:
        return self.leak * self.ordinary.values + (1.0 - self.leak) * self.ticket

    @property
    def bound(self) -> Array:
        return self.leak * self.ordinary.bound + (1.0 - self.leak) * self.ticket.max(axis=(0, 1))

    @property
    def a_probability(self) -> bool:
        return self.ordinary.a_probability and bool(self.ticket.max() <= 1.0)

    def all_original(self, parts: Collection[str]) -> Array:
        if not any(p in parts for p in self.parts):
            return self.values
        return self.leak * self.ordinary.all_original(parts)

    def original(self, part: str) -> Array:
        return self.leak * self.ordinary.original(part)

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
