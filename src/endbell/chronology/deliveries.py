"""The dated parts of one class in one assembly, summed over origins and deliveries.

Parts with the same text and the same other marks are exchangeable, so the sums run over *counts* of
each kind of text.  A set of kinds that can't share a delivery with the rest is a component; only
the
Ewens normaliser couples components, through the numbers of originals and of later replacements.
docs/model.md, section 6.  Arrays have the axes (model or 1, stock age or 1, week).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .counting import Counts, given_among, rising
from .partitions import Component, Poly
from .plan import Plan
from .time import Array, IntArray, on_weeks


@dataclass(frozen=True, eq=False)
class Deliveries:
    """A plan evaluated on some weeks: the likelihood of the group, and of anything asked about
    it.
    """

    plan: Plan
    components: tuple[Component, ...]

    @classmethod
    def at(cls, plan: Plan, weeks: IntArray) -> Deliveries:
        """Evaluate a plan on some build weeks."""
        made: list[Component] = []
        for part in plan.components:
            kinds = [plan.kinds[i] for i in part.members]
            made.append(
                Component(
                    part.members,
                    part.size,
                    {b: plan.block_at(choices, weeks) for b, choices in part.blocks.items()},
                    [cut(k.original, weeks) for k in kinds],
                    [cut(k.later, weeks) for k in kinds],
                    [cut(k.period, weeks) for k in kinds],
                    [plan.period(i, weeks)[:, None] for i in part.members],
                    plan.lags.concentration,
                )
            )
        return cls(plan, tuple(made))

    def on(self, weeks: IntArray) -> Deliveries:
        """The same group on some of its weeks."""
        some = Deliveries(self.plan, tuple(c.on(weeks) for c in self.components))
        if "polys" in self.__dict__:
            some.__dict__["polys"] = tuple(
                {key: on_weeks(a, weeks) for key, a in poly.items()} for poly in self.polys
            )
        if "_total" in self.__dict__:
            some.__dict__["_total"] = on_weeks(self._total, weeks)
        return some

    @property
    def nbytes(self) -> int:
        """About what it holds once asked: its deliveries and their sums."""
        return 3 * sum(f.nbytes + g.nbytes for c in self.components for f, g in c.blocks.values())

    @property
    def single(self) -> bool:
        """Whether there is but one component, so that the normaliser can be applied at once."""
        return len(self.components) == 1

    def total(self) -> Array:
        """The likelihood of everything seen here."""
        return self._total

    @cached_property
    def _total(self) -> Array:
        return self.combine(self.polys)

    @cached_property
    def polys(self) -> tuple[Poly, ...]:
        """Every component summed with nothing asked of it."""
        return tuple(
            c.poly("original", lambda _o, _k: 1.0, single=self.single) for c in self.components
        )

    def with_poly(self, i: int, poly: Poly) -> Array:
        """The likelihood with component i's sum replaced; the others are mixed once and kept."""
        total: Array | None = None
        for key, a in poly.items():
            rest = self._rest(i, key)
            term = a if rest is None else a * rest
            total = term if total is None else total + term
        return np.zeros((1, 1, 1)) if total is None else total

    def _rest(self, i: int, key: tuple[int, int]) -> Array | None:
        """What the other components and the normaliser multiply a term (j, k) of component i
        with.
        """
        if self.single:
            return None
        if i not in self._others:
            self._others[i] = _mixed([p for j, p in enumerate(self.polys) if j != i])
        known = self._rests.get((i, key))
        if known is None:
            known = _normalised(self._others[i], key, self.plan.lags.concentration)
            self._rests[(i, key)] = known
        return known

    @cached_property
    def _others(self) -> dict[int, Poly]:
        return {}

    @cached_property
    def _rests(self) -> dict[tuple[int, tuple[int, int]], Array]:
        return {}

    def combine(self, polys: Sequence[Poly]) -> Array:
        """Multiply the components and apply the Ewens normaliser."""
        if self.single:
            return self.with_poly(0, polys[0])
        return _normalised(_mixed(polys), (0, 0), self.plan.lags.concentration)

    def component_of(self, kind: int) -> tuple[int, int]:
        """Index of the component and, in it, of a kind."""
        for i, c in enumerate(self.components):
            if kind in c.members:
                return i, c.members.index(kind)
        raise KeyError(kind)

    def all_original(self, kinds: Sequence[int]) -> Array:
        """The likelihood with given parts original, each named by its kind."""
        wanted = self.counts_of(kinds)
        if not wanted:
            return self._total
        polys = {
            i: self.components[i].poly(
                "original", lambda o, k, a=counts: given_among(o, k, a), single=self.single
            )
            for i, counts in wanted.items()
        }
        if len(polys) == 1:
            ((i, poly),) = polys.items()
            return self.with_poly(i, poly)
        return self.combine([polys.get(i, p) for i, p in enumerate(self.polys)])

    def original(self, kind: int) -> Array:
        """The likelihood with one part of a kind original."""
        i, tau = self.component_of(kind)
        if (i, tau) not in self._original:
            poly = self.components[i].poly(
                "original", lambda o, k: o[tau] / k[tau], single=self.single
            )
            self._original[(i, tau)] = self.with_poly(i, poly)
        return self._original[(i, tau)]

    @cached_property
    def _original(self) -> dict[tuple[int, int], Array]:
        return {}

    def origins(self, kind: int) -> tuple[Array, Array, Array]:
        """The likelihood with one part of a kind original, later, period."""
        if kind not in self._origins:
            i, tau = self.component_of(kind)
            poly = self.components[i].poly(
                "later", lambda l, k: l[tau] / k[tau], single=self.single
            )
            original, later = self.original(kind), self.with_poly(i, poly)
            period = np.maximum(self.total() - original - later, 0.0)
            self._origins[kind] = (original, later, period)
        return self._origins[kind]

    @cached_property
    def _origins(self) -> dict[int, tuple[Array, Array, Array]]:
        return {}

    def together(self, kinds: Sequence[int]) -> Array | None:
        """The likelihood with given parts, each named by its kind, in one delivery; None if they
        can't share one.
        """
        wanted = self.counts_of(kinds)
        if len(wanted) != 1:
            return None
        ((i, counts),) = wanted.items()
        component = self.components[i]
        if not any(
            all(b >= a for b, a in zip(block, counts, strict=True)) for block in component.blocks
        ):
            return None
        return self.with_poly(i, component.poly_together(counts, single=self.single))

    def counts_of(self, kinds: Sequence[int]) -> dict[int, Counts]:
        """How many parts of each kind are named, by component."""
        out: dict[int, list[int]] = {}
        for kind in kinds:
            i, tau = self.component_of(kind)
            out.setdefault(i, [0] * len(self.components[i].members))[tau] += 1
        return {i: tuple(c) for i, c in out.items()}


def _mixed(polys: Sequence[Poly]) -> Poly:
    """The product of polynomials in the numbers of originals and of later replacements."""
    out = polys[0]
    for poly in polys[1:]:
        mixed: Poly = {}
        for (j, k), a in out.items():
            for (x, y), b in poly.items():
                key = (j + x, k + y)
                term = a * b
                mixed[key] = mixed[key] + term if key in mixed else term
        out = mixed
    return out


def _normalised(poly: Poly, shift: tuple[int, int], alpha: float) -> Array:
    """sum of the coefficients over the rising factorials of their (shifted) numbers."""
    total: Array | None = None
    for (j, k), a in poly.items():
        term = a / (rising(alpha, j + shift[0]) * rising(alpha, k + shift[1]))
        total = term if total is None else total + term
    return np.zeros((1, 1, 1)) if total is None else total


def cut(a: Array, weeks: IntArray) -> Array:
    """A (M or 1, size or 1) array on some weeks, with the stock-age axis put in."""
    return on_weeks(a, weeks)[:, None]
