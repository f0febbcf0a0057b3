"""What is worth keeping between two sums: tables and convolutions, by what they were computed from.

A workspace holds no settings and decides nothing: the same call with a fresh one gives the same
numbers, only later.  Callers that weigh many dossiers pass one along.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import fields, is_dataclass
from functools import cached_property
from typing import TypeVar, cast

T = TypeVar("T")

DEFAULT_BYTES = 384 * 2**20

PASSING = 8
"""Which part of the room what is of use to one dossier may take besides."""


class Workspace:
    """A bounded memo: least recently used values leave first."""

    def __init__(self, limit_bytes: int = DEFAULT_BYTES) -> None:
        self._limit = limit_bytes
        self._held = 0
        self._kept: OrderedDict[Hashable, tuple[object, int]] = OrderedDict()

    @cached_property
    def passing(self) -> Workspace:
        """A smaller one beside it, for what the next dossier is unlikely to ask for again: it must
        not push out what all of them need.
        """
        return Workspace(self._limit // PASSING)

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """The value kept under ``key``, made by ``make`` if it isn't there."""
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
            return cast(T, found[0])
        value = make()
        size = _bytes(value)
        self._kept[key] = (value, size)
        self._held += size
        while self._held > self._limit and len(self._kept) > 1:
            _, (_, gone) = self._kept.popitem(last=False)
            self._held -= gone
        return value

    def again(self, key: Hashable) -> bool:
        """Whether this was asked before (and is still remembered): worth keeping the answer."""
        asked = ("asked", key)
        known = asked in self._kept
        self.get(asked, lambda: True)
        return known


class Same:
    """A key that is equal only to itself: stands for an object, which it keeps alive."""

    __slots__ = ("held",)

    def __init__(self, held: object) -> None:
        self.held = held

    def __hash__(self) -> int:
        return id(self.held)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and other.held is self.held


def _bytes(value: object) -> int:
    size = getattr(value, "nbytes", None)
    if isinstance(size, int):
        return size + 200
    if isinstance(value, tuple):
        return 200 + sum(_bytes(v) for v in cast(tuple[object, ...], value))
    if isinstance(value, dict):
        return 200 + sum(_bytes(v) for v in cast(dict[object, object], value).values())
    if is_dataclass(value):
        # arrays only: what else a record holds is small, and many are kept
        return 2000 + sum(getattr(getattr(value, f.name), "nbytes", 0) for f in fields(value))
    return 400
