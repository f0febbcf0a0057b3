"""A dated part that is alone of its class in its assembly: the commonest case, spelled out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from .deliveries import cut
from .plan import Plan
from .time import Array, IntArray, on_weeks


@dataclass(frozen=True, eq=False)
class Lone:
    """The three accounts of the part, each its prior times everything seen on it; the same answers
    as :class:`~endbell.chronology.deliveries.Deliveries` of one part.  (M or 1, U or 1, weeks).
    """

    as_original: Array
    as_later: Array
    as_period: Array

    @classmethod
    def at(cls, plan: Plan, weeks: IntArray) -> Lone:
        """Evaluate a plan of one part on some build weeks."""
        kind = plan.kinds[0]
        (component,) = plan.components
        window = plan.period(0, weeks)[:, None] * cut(kind.period, weeks)
        choices = component.blocks.get((1,))
        if choices is None:  # no delivery can have brought it
            return cls(0.0 * window, 0.0 * window, window)
        f, g = plan.delivery_at(choices, weeks, on_weeks(kind.original, weeks))
        return cls(f, g * cut(kind.later, weeks), window)

    def on(self, weeks: IntArray) -> Lone:
        """The same on some of its weeks."""
        some = Lone(
            on_weeks(self.as_original, weeks),
            on_weeks(self.as_later, weeks),
            on_weeks(self.as_period, weeks),
        )
        some.__dict__["_total"] = on_weeks(self._total, weeks)
        return some

    @property
    def nbytes(self) -> int:
        return 3 * int(self.as_original.nbytes)

    def total(self) -> Array:
        """The likelihood of everything seen here."""
        return self._total

    @cached_property
    def _total(self) -> Array:
        return self.as_original + (self.as_later + self.as_period)

    def all_original(self, kinds: Sequence[int]) -> Array:
        """The likelihood with the part original (or, if nothing is asked of it, as it may be)."""
        return self.as_original if kinds else self._total

    def original(self, _kind: int) -> Array:
        """The likelihood with the part original."""
        return self.as_original

    def origins(self, _kind: int) -> tuple[Array, Array, Array]:
        """The likelihood with the part original, later, period."""
        return self.as_original, self.as_later, self.as_period
