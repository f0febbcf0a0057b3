"""Units: the factors of the likelihood that are independent given model, build week and stock age.

A unit is first a description of the whole grid, with a bound by week; ``on`` evaluates it on the
weeks
that matter.  All answers have the axes (model or 1, stock age or 1, week).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from . import blocks
from .deliveries import Deliveries
from .lone import Lone
from .plan import Plan
from .time import Array, IntArray, on_weeks
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
        """An upper bound of ``values`` by group of stock ages and block of weeks; (G or 1, blocks
        or 1).
        """
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
        return blocks.highest(self.values.max(axis=(0, 1)))[None]

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
        return AmpUnit(self.assembly, self.marks, on_weeks(self.values, weeks), self.parts)


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
        return blocks.highest(self.values.max(axis=(0, 1)))[None]

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
            self.assembly, self.marks, self.undated.on(weeks), on_weeks(self.values, weeks)
        )


@dataclass(frozen=True, eq=False)
class DatedUnit:
    """The dated parts of one class in one assembly.

    ``place``: the kind of every part; ``weeks``: where it is evaluated, None: nowhere yet, so on
    the whole grid if it is asked.
    """

    assembly: str
    part_class: str
    marks: tuple[int, ...]
    plan: Plan
    place: Mapping[str, int]
    weeks: IntArray | None = None
    found: Lone | Deliveries | None = None

    @property
    def parts(self) -> tuple[str, ...]:
        return tuple(self.place)

    @cached_property
    def group(self) -> Lone | Deliveries:
        """The parts evaluated: one alone, or the deliveries they came in."""
        return self.found or self._at(self._weeks)

    @cached_property
    def deliveries(self) -> Deliveries:
        """The parts as deliveries, even one alone."""
        group = self.group
        return group if isinstance(group, Deliveries) else Deliveries.at(self.plan, self._weeks)

    @property
    def _weeks(self) -> IntArray:
        return np.arange(self.plan.size) if self.weeks is None else self.weeks

    def _at(self, weeks: IntArray) -> Lone | Deliveries:
        make = Lone.at if self.plan.lone else Deliveries.at
        key = ("at", Same(self.plan), weeks.tobytes())
        return self.plan.workspace.passing.get(key, lambda: make(self.plan, weeks))

    @property
    def values(self) -> Array:
        return self.group.total()

    @property
    def bound(self) -> Array:
        return self.plan.bound

    @property
    def a_probability(self) -> bool:
        return self.plan.a_probability

    def all_original(self, parts: Collection[str]) -> Array:
        return self.group.all_original(self.kinds_of(parts))

    def together(self, parts: Collection[str]) -> Array | None:
        """The likelihood with all of these parts in one delivery; None if they can't share one."""
        return self.deliveries.together(self.kinds_of(parts))

    def kinds_of(self, parts: Collection[str]) -> list[int]:
        """The kinds of those of the parts that are of this unit."""
        return [kind for part, kind in self.place.items() if part in parts]

    def original(self, part: str) -> Array:
        return self.group.original(self.place[part])

    def origins(self, part: str) -> Origins:
        return self.group.origins(self.place[part])

    def on(self, weeks: IntArray) -> DatedUnit:
        held = "group" in self.__dict__ or self.found is not None
        found = self.group.on(weeks) if held else self._at(weeks)
        at = weeks if self.weeks is None else self.weeks[weeks]
        return DatedUnit(
            self.assembly, self.part_class, self.marks, self.plan, self.place, at, found
        )


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
        ticket = blocks.highest(self.ticket.max(axis=(0, 1)))
        return self.leak * self.ordinary.bound + (1.0 - self.leak) * ticket

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
        return RepairedUnit(self.ordinary.on(weeks), on_weeks(self.ticket, weeks), self.leak)


def unit_of(part: str, units: Sequence[Unit]) -> Unit:
    """The unit that holds a part."""
    return next(u for u in units if part in u.parts)
