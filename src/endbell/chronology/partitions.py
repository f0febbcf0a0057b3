"""Sums over origins and deliveries of parts that can share deliveries, by counts of each kind.

Pure combinatorics on arrays (model or 1, stock age or 1, week); docs/model.md, section 6.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from math import factorial, prod

import numpy as np

from .counting import (
    Counts,
    Steps,
    given_among,
    rising,
    risings,
    steps_of,
    table_of,
    ways,
)
from .time import Array, IntArray, on_weeks

Poly = dict[tuple[int, int], Array]
"""Coefficient arrays by (number of originals, number of later replacements)."""

Weight = Callable[[Counts, Counts], float]
"""Weight of a term, from how many of each kind have the origin asked about, and how many of
each there are."""

ONE = np.ones((1, 1, 1))


class Component:
    """Kinds that can share deliveries.

    ``blocks``: for each delivery that is possible, by its counts, f_b and g_b.  ``original``,
    ``later``, ``period``: prior times other marks of each kind; ``window``: p_i of each kind.
    """

    def __init__(
        self,
        members: tuple[int, ...],
        size: Counts,
        blocks: Mapping[Counts, tuple[Array, Array]],
        original: Sequence[Array],
        later: Sequence[Array],
        period: Sequence[Array],
        window: Sequence[Array],
        alpha: float,
    ) -> None:
        self.members = members
        self.size = size
        self.blocks = blocks
        self.original = tuple(original)
        self.later = tuple(later)
        self.period = tuple(period)
        self.window = tuple(window)
        self.alpha = alpha

    def on(self, weeks: IntArray) -> Component:
        """The same on some of its weeks."""

        def cut(a: Array) -> Array:
            return on_weeks(a, weeks)

        some = Component(
            self.members,
            self.size,
            {b: (cut(f), cut(g)) for b, (f, g) in self.blocks.items()},
            [cut(a) for a in self.original],
            [cut(a) for a in self.later],
            [cut(a) for a in self.period],
            [cut(a) for a in self.window],
            self.alpha,
        )
        for name in ("_original_terms", "_later_terms", "_spare"):
            if name in self.__dict__:  # what has been worked out need not be again
                some.__dict__[name] = self.__dict__[name].on(weeks)
        return some

    def poly(self, by: str, weight: Weight, *, single: bool) -> Poly:
        """Sum over origins and partitions, by numbers of originals and of later replacements.

        ``weight``: of a term, from how many of each kind are original (``by`` 'original') or later
        (``by`` 'later') and how many there are.  ``single``: no other component to mix with, so the
        Ewens normaliser is applied at once.
        """
        if self.size == (1,):
            return self._poly_of_one(by, weight, single)
        if by == "original":
            chosen = self._original_terms.weighted(lambda o: weight(o, self.size))
            return self._sum(chosen, self._later_terms, self.size, single, (0, 0))
        chosen = self._later_terms.weighted(lambda l: weight(l, self.size))
        return self._sum(self._original_terms, chosen, self.size, single, (0, 0))

    def _poly_of_one(self, by: str, weight: Weight, single: bool) -> Poly:
        """The same for one part alone, spelled out: it is by far the commonest case."""
        f, g = self.blocks.get((1,), (None, None))
        yes, no = weight((1,), (1,)), weight((0,), (1,))
        terms: list[tuple[tuple[int, int], float, Array]] = []
        if f is not None and g is not None:
            terms.append(((1, 0), yes if by == "original" else no, f * self.original[0]))
            terms.append(((0, 1), yes if by == "later" else no, g * self.later[0]))
        terms.append(((0, 0), no, self.period[0] * self.window[0]))
        out: Poly = {}
        for key, scale, a in terms:
            if scale == 0.0:
                continue
            if single:
                key = (0, 0)  # alpha / (alpha) = 1: one delivery of one part
            else:
                scale *= self.alpha ** sum(key)
            term = a if scale == 1.0 else scale * a
            out[key] = out[key] + term if key in out else term
        return out

    def poly_together(self, wanted: Counts, *, single: bool) -> Poly:
        """The same, with the wanted counts in one (original or later) delivery."""

        def among(have: Counts) -> float:
            return given_among(have, self.size, wanted)

        original = self._terms(0, self.partitions(0, wanted)).weighted(among)
        later = self._terms(1, self.partitions(1, wanted)).weighted(among)
        first = self._sum(original, self._later_terms, self.size, single, (0, 0))
        second = self._sum(self._original_terms, later, self.size, single, (0, 0))
        return _added(first, second)

    def poly_beside(self, tau: int, role: str, companions: Counts, *, single: bool) -> Poly | None:
        """What multiplies the date of one part of kind tau, in a role, with companions in its
        delivery.

        ``role``: 'original', 'later' or 'period' (then no companions).  None if impossible.
        """
        alike = tuple(s - (1 if i == tau else 0) for i, s in enumerate(self.size))
        left = tuple(a - c for a, c in zip(alike, companions, strict=True))
        if any(c < 0 for c in left):
            return None
        taken = tuple(c + (1 if i == tau else 0) for i, c in enumerate(companions))
        n = sum(taken)
        if role == "period":
            front, shift = self.period[tau], (0, 0)
        else:
            scale = ways(alike, companions) * self.alpha * factorial(n - 1)
            front = scale * self._weights(role, taken)
            shift = (n, 0) if role == "original" else (0, n)
        rest = self._sum(self._original_terms, self._later_terms, left, single, shift)
        return {key: front * a for key, a in rest.items()}

    def poly_left(self, tau: int) -> Poly:
        """The sum without one part of kind tau; not yet normalised."""
        left = tuple(s - (1 if i == tau else 0) for i, s in enumerate(self.size))
        return self._sum(self._original_terms, self._later_terms, left, False, (0, 0))

    def poly_joined(self, role: str, companions: Counts) -> Poly:
        """The sum with some parts taken into the delivery of a part from elsewhere; not
        normalised.
        """
        n = sum(companions) + 1
        left = tuple(s - c for s, c in zip(self.size, companions, strict=True))
        scale = ways(self.size, companions) * self.alpha * factorial(n - 1)
        front = scale * self._weights(role, companions)
        shift = (n, 0) if role == "original" else (0, n)
        rest = self._sum(self._original_terms, self._later_terms, left, False, shift)
        return {key: front * a for key, a in rest.items()}

    # -- partitions ------------------------------------------------------------------------------

    def partitions(self, which: int, wanted: Counts | None = None) -> Mapping[Counts, Array]:
        """W(n): sum over partitions of n into deliveries of alpha^K prod (size-1)! f, n <= size.

        ``which``: 0 original, 1 later.  ``wanted``: labelled parts that must share a delivery.
        """
        plain = self._plain[which]
        if wanted is None:
            return plain
        steps = steps_of(self.size, tuple(self.blocks), self.alpha, wanted)
        return self._follow(steps, dict(plain), which, keep=False)

    @cached_property
    def _plain(self) -> tuple[Mapping[Counts, Array], Mapping[Counts, Array]]:
        steps = steps_of(self.size, tuple(self.blocks), self.alpha, None)
        zero = (0,) * len(self.size)
        return (
            self._follow(steps, {zero: ONE}, 0, keep=True),
            self._follow(steps, {zero: ONE}, 1, keep=True),
        )

    def _follow(
        self, steps: Steps, known: dict[Counts, Array], which: int, *, keep: bool
    ) -> Mapping[Counts, Array]:
        """Work the steps off: W(n) = sum of scale * f_b * W(n - b); ``keep``: add to ``known``."""
        out = known if keep else {}
        for n, ways_to in steps:
            total: Array | None = None
            for b, rest, scale in ways_to:
                w = known.get(rest)
                if w is not None:
                    term = self.blocks[b][which] * (scale * w)
                    total = term if total is None else total + term
            if total is not None:
                out[n] = total
        return out

    # -- the sum over origins ----------------------------------------------------------------------

    @cached_property
    def _original_terms(self) -> Terms:
        return self._terms(0, self.partitions(0))

    @cached_property
    def _later_terms(self) -> Terms:
        return self._terms(1, self.partitions(1))

    def _terms(self, which: int, partitions: Mapping[Counts, Array]) -> Terms:
        """W(n) * prior^n / n!, for originals (0) or later replacements (1)."""
        role = "later" if which else "original"
        return Terms.of(
            {
                n: w * (self._weights(role, n) / prod(factorial(c) for c in n))
                for n, w in partitions.items()
            }
        )

    @cached_property
    def _spare(self) -> Terms:
        """Period replacements: (prior * p)^n / n!, for every count."""
        each = [p * w for p, w in zip(self.period, self.window, strict=True)]
        out: dict[Counts, Array] = {}
        for n in product(*(range(s + 1) for s in self.size)):
            term = ONE
            for p, c in zip(each, n, strict=True):
                if c:
                    term = term * (p if c == 1 else p**c)
            out[n] = term / prod(factorial(c) for c in n)
        return Terms.of(out)

    def _weights(self, role: str, counts: Counts) -> Array:
        out = ONE
        for tau, n in enumerate(counts):
            if n:
                a = (self.original if role == "original" else self.later)[tau]
                out = out * (a if n == 1 else a**n)
        return out

    def _sum(
        self, original: Terms, later: Terms, size: Counts, single: bool, shift: tuple[int, int]
    ) -> Poly:
        """sum over (originals, later, period) of size!/(o! l! p!) * W_O * W_L * period terms.

        The factorials are divided out beforehand, so that every term is a product of three.
        """
        table = table_of(original.counts, later.counts, self._spare.counts, size)
        if table.originals.size == 0:
            return {}
        whole = float(prod(factorial(c) for c in size))
        products = later.stacked[table.later] * self._spare.stacked[table.spare]
        chosen: list[int] = table.originals.tolist()
        if single:
            weights = 1.0 / risings(self.alpha, table.later_size + shift[1])
            products = products * weights[:, None, None, None]
            rest: Sequence[Array] = list(np.add.reduceat(products, table.starts, axis=0))
            scales = whole / risings(self.alpha, table.original_size + shift[0])
            total: Array | None = None
            for i, beside, scale in zip(chosen, rest, scales.tolist(), strict=True):
                # only the originals hang on model and stock age: all else is multiplied first
                term = original.values[i] * (beside * (scale * original.scales[i]))
                total = term if total is None else total + term
            assert total is not None
            return {(0, 0): total}
        out: Poly = {}
        ends = np.append(table.starts[1:], table.later.size)
        for i, (lo, hi) in enumerate(zip(table.starts.tolist(), ends.tolist(), strict=True)):
            first = chosen[i]
            j = int(table.original_size[i]) + shift[0]
            for k in np.unique(table.later_size[lo:hi]).tolist():
                beside: Array = products[lo:hi][table.later_size[lo:hi] == k].sum(axis=0)
                term = original.values[first] * (beside * (whole * original.scales[first]))
                key = (j, k + shift[1])
                out[key] = out[key] + term if key in out else term
        return out


@dataclass(frozen=True, eq=False)
class Terms:
    """Arrays by counts: ``scales[i] * values[i]`` belongs to ``counts[i]``; each (M or 1, U or 1,
    weeks or 1).
    """

    counts: tuple[Counts, ...]
    values: tuple[Array, ...]
    scales: tuple[float, ...]

    @classmethod
    def of(cls, by_counts: Mapping[Counts, Array]) -> Terms:
        return cls(tuple(by_counts), tuple(by_counts.values()), (1.0,) * len(by_counts))

    @cached_property
    def stacked(self) -> Array:
        """All of them with their scales, (n, M or 1, U or 1, weeks or 1)."""
        whole = np.stack(np.broadcast_arrays(*self.values))
        if all(scale == 1.0 for scale in self.scales):
            return whole
        return whole * np.array(self.scales)[:, None, None, None]

    def on(self, weeks: IntArray) -> Terms:
        """The same on some of the weeks."""
        return Terms(self.counts, tuple(on_weeks(a, weeks) for a in self.values), self.scales)

    def weighted(self, weight: Callable[[Counts], float]) -> Terms:
        """The same, each times a weight; what weighs nothing is left out."""
        weights = [weight(n) for n in self.counts]
        if all(w == 1.0 for w in weights):
            return self
        held = [i for i, w in enumerate(weights) if w != 0.0]
        return Terms(
            tuple(self.counts[i] for i in held),
            tuple(self.values[i] for i in held),
            tuple(self.scales[i] * weights[i] for i in held),
        )


def partitions_bound(size: Counts, terms: Mapping[Counts, Array], alpha: float) -> Array:
    """At least the sum over origins and partitions of ``size`` parts.

    ``terms``: by the counts of each possible delivery, at least its likelihood whatever the origin
    of its parts (of one part alone: period replacement included).  No partition is likelier than
    the product, over its deliveries, of how likely these parts would all come together if they were
    the only ones, ``(n - 1)! / ((alpha + 1) ... (alpha + n - 1))``.
    """
    zero = (0,) * len(size)
    known: dict[Counts, Array] = {zero: np.ones(1)}
    for n, ways_to in steps_of(size, tuple(terms), alpha, None):
        total: Array | None = None
        for b, rest, scale in ways_to:
            if rest in known:
                factor = scale / rising(alpha, sum(b))
                term = terms[b] * known[rest]
                term = term if factor == 1.0 else factor * term
                total = term if total is None else total + term
        if total is not None:
            known[n] = total
    return known[size]


def _added(a: Poly, b: Poly) -> Poly:
    out = dict(a)
    for key, value in b.items():
        out[key] = out[key] + value if key in out else value
    return out
