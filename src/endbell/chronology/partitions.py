"""Sums over origins and deliveries of parts that can share deliveries, by counts of each kind.

Pure combinatorics on arrays (model or 1, stock age or 1, week); docs/model.md, section 6.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import product
from math import comb, factorial, prod

import numpy as np

from .time import Array, IntArray

Counts = tuple[int, ...]
Poly = dict[tuple[int, int], Array]
"""Coefficient arrays by (number of originals, number of later replacements)."""

Weight = Callable[[Counts, Counts], float]
"""Weight of a term, from how many of each kind have the origin asked about, and how many of
each there are."""

ONE = np.ones((1, 1, 1))


def given_among(have: Counts, of: Counts, wanted: Counts) -> float:
    """P(given labelled parts are among ``have`` of ``of``), every choice equally likely."""
    out = 1.0
    for h, k, a in zip(have, of, wanted, strict=True):
        for i in range(a):
            out *= max(h - i, 0) / (k - i)
    return out


def rising(alpha: float, n: int) -> float:
    """alpha (alpha + 1) ... (alpha + n - 1)."""
    out = 1.0
    for i in range(n):
        out *= alpha + i
    return out


def ways(of: Counts, chosen: Counts) -> int:
    """In how many ways counts can be chosen from counts."""
    return prod(comb(k, c) for k, c in zip(of, chosen, strict=True))


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
            return a[:, :, weeks] if a.shape[2] > 1 else a

        return Component(
            self.members,
            self.size,
            {b: (cut(f), cut(g)) for b, (f, g) in self.blocks.items()},
            [cut(a) for a in self.original],
            [cut(a) for a in self.later],
            [cut(a) for a in self.period],
            [cut(a) for a in self.window],
            self.alpha,
        )

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
        steps = _steps(self.size, tuple(self.blocks), self.alpha, wanted)
        return self._follow(steps, dict(plain), which, keep=False)

    @cached_property
    def _plain(self) -> tuple[Mapping[Counts, Array], Mapping[Counts, Array]]:
        steps = _steps(self.size, tuple(self.blocks), self.alpha, None)
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
                    term = scale * self.blocks[b][which] * w
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
                n: w * self._weights(role, n) / prod(factorial(c) for c in n)
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
        table = _table(original.counts, later.counts, self._spare.counts, size)
        if table.originals.size == 0:
            return {}
        whole = float(prod(factorial(c) for c in size))
        products = later.values[table.later] * self._spare.values[table.spare]
        if single:
            weights = 1.0 / _risings(self.alpha, table.later_size + shift[1])
            rest = np.add.reduceat(products * weights[:, None, None, None], table.starts, axis=0)
            scale = whole / _risings(self.alpha, table.original_size + shift[0])
            term = original.values[table.originals] * rest * scale[:, None, None, None]
            return {(0, 0): term.sum(axis=0)}
        out: Poly = {}
        ends = np.append(table.starts[1:], table.later.size)
        for i, (lo, hi) in enumerate(zip(table.starts.tolist(), ends.tolist(), strict=True)):
            front = whole * original.values[table.originals[i]]
            j = int(table.original_size[i]) + shift[0]
            for k in np.unique(table.later_size[lo:hi]).tolist():
                beside = products[lo:hi][table.later_size[lo:hi] == k].sum(axis=0)
                term = front * beside
                key = (j, k + shift[1])
                out[key] = out[key] + term if key in out else term
        return out


@dataclass(frozen=True, eq=False)
class Terms:
    """Arrays by counts: ``values[i]`` belongs to ``counts[i]``; (n, M or 1, U or 1, weeks)."""

    counts: tuple[Counts, ...]
    values: Array

    @classmethod
    def of(cls, by_counts: Mapping[Counts, Array]) -> Terms:
        if not by_counts:
            return cls((), np.zeros((0, 1, 1, 1)))
        return cls(tuple(by_counts), np.stack(np.broadcast_arrays(*by_counts.values())))

    def weighted(self, weight: Callable[[Counts], float]) -> Terms:
        """The same, each times a weight; what weighs nothing is left out."""
        weights = np.array([weight(n) for n in self.counts])
        held = np.flatnonzero(weights)
        if held.size == weights.size and bool((weights == 1.0).all()):
            return self
        return Terms(
            tuple(self.counts[i] for i in held.tolist()),
            self.values[held] * weights[held, None, None, None],
        )


@dataclass(frozen=True, eq=False)
class _Table:
    """Which terms meet: for each original (``starts``: its first pair) later ones and spares."""

    originals: IntArray
    original_size: IntArray
    starts: IntArray
    later: IntArray
    later_size: IntArray
    spare: IntArray


@lru_cache(maxsize=512)
def _table(
    originals: tuple[Counts, ...],
    later: tuple[Counts, ...],
    spare: tuple[Counts, ...],
    size: Counts,
) -> _Table:
    place = {n: i for i, n in enumerate(spare)}
    chosen: list[int] = []
    starts: list[int] = []
    pairs: list[tuple[int, int, int]] = []
    for i, o in enumerate(originals):
        left = tuple(s - c for s, c in zip(size, o, strict=True))
        begin = len(pairs)
        for j, l in enumerate(later):
            rest = place.get(tuple(s - c for s, c in zip(left, l, strict=True)))
            if rest is not None:
                pairs.append((j, sum(l), rest))
        if len(pairs) > begin:
            chosen.append(i)
            starts.append(begin)
    columns = np.array(pairs, dtype=np.int64).reshape(-1, 3)
    return _Table(
        np.array(chosen, dtype=np.int64),
        np.array([sum(originals[i]) for i in chosen], dtype=np.int64),
        np.array(starts, dtype=np.int64),
        columns[:, 0],
        columns[:, 1],
        columns[:, 2],
    )


def _risings(alpha: float, n: IntArray) -> Array:
    """alpha (alpha + 1) ... (alpha + n - 1), element by element."""
    known = np.array([rising(alpha, i) for i in range(int(n.max(initial=0)) + 1)])
    return known[n]


Steps = tuple[tuple[Counts, tuple[tuple[Counts, Counts, float], ...]], ...]
"""For every n in order: the deliveries b within it, what is left, and the weight."""


@lru_cache(maxsize=256)
def _steps(size: Counts, blocks: tuple[Counts, ...], alpha: float, wanted: Counts | None) -> Steps:
    """How W(n) is built up; ``wanted``: parts that must share the first delivery (None: any)."""
    lowest = wanted or (0,) * len(size)
    out: list[tuple[Counts, tuple[tuple[Counts, Counts, float], ...]]] = []
    for n in product(*(range(a, s + 1) for a, s in zip(lowest, size, strict=True))):
        if not any(n):
            continue
        given = wanted
        if given is None:
            # the delivery that holds one given part of the first kind there is
            first = next(i for i, c in enumerate(n) if c)
            given = tuple(1 if i == first else 0 for i in range(len(n)))
        found: list[tuple[Counts, Counts, float]] = []
        for b in blocks:
            if any(t > h or t < g for h, t, g in zip(n, b, given, strict=True)):
                continue
            number = prod(comb(h - g, t - g) for h, t, g in zip(n, b, given, strict=True))
            rest = tuple(h - t for h, t in zip(n, b, strict=True))
            found.append((b, rest, alpha * factorial(sum(b) - 1) * number))
        out.append((n, tuple(found)))
    return tuple(out)


def _added(a: Poly, b: Poly) -> Poly:
    out = dict(a)
    for key, value in b.items():
        out[key] = out[key] + value if key in out else value
    return out
