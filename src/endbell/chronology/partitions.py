"""Sums over origins and deliveries of parts that can share deliveries, by counts of each kind.

Pure combinatorics on arrays (model or 1, stock age or 1, week); docs/model.md, section 6.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from itertools import product
from math import comb, factorial, prod

import numpy as np

from .time import Array, IntArray

Counts = tuple[int, ...]
Poly = dict[tuple[int, int], Array]
"""Coefficient arrays by (number of originals, number of later replacements)."""

Coefficient = Callable[[Counts, Counts, Counts], float]
"""Weight of a term, given how many of each kind are original, later, and there at all."""

ONE = np.ones((1, 1, 1))


def everything(_original: Counts, _later: Counts, _size: Counts) -> float:
    """The coefficient that leaves every term as it is."""
    return 1.0


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

    def poly(self, weight: Coefficient, *, single: bool) -> Poly:
        """Sum over origins and partitions, by numbers of originals and of later replacements.

        ``single``: no other component to mix with, so the Ewens normaliser is applied at once.
        """
        if self.size == (1,):
            return self._poly_of_one(weight, single)
        return self._sum(self.partitions(0), self.partitions(1), self.size, weight, single, (0, 0))

    def poly_by_original(self, weight: Callable[[Counts, Counts], float], *, single: bool) -> Poly:
        """The same where the weight looks at the originals only: their terms are kept."""
        if self.size == (1,):
            return self._poly_of_one(lambda o, _l, k: weight(o, k), single)
        out: Poly = {}
        for o, poly in self._by_original(single).items():
            scale = weight(o, self.size)
            if scale == 0.0:
                continue
            for key, a in poly.items():
                term = a if scale == 1.0 else scale * a
                out[key] = out[key] + term if key in out else term
        return out

    def _by_original(self, single: bool) -> Mapping[Counts, Poly]:
        if single not in self._terms:
            found: dict[Counts, Poly] = {}
            for o in product(*(range(s + 1) for s in self.size)):
                only = self._sum(
                    {o: self.partitions(0)[o]} if o in self.partitions(0) else {},
                    self.partitions(1),
                    self.size,
                    everything,
                    single,
                    (0, 0),
                )
                if only:
                    found[o] = only
            self._terms[single] = found
        return self._terms[single]

    @cached_property
    def _terms(self) -> dict[bool, Mapping[Counts, Poly]]:
        return {}

    def _poly_of_one(self, weight: Coefficient, single: bool) -> Poly:
        """The same for one part alone, spelled out: it is by far the commonest case."""
        f, g = self.blocks.get((1,), (None, None))
        terms: list[tuple[tuple[int, int], float, Array]] = []
        if f is not None and g is not None:
            terms.append(((1, 0), weight((1,), (0,), (1,)), f * self.original[0]))
            terms.append(((0, 1), weight((0,), (1,), (1,)), g * self.later[0]))
        terms.append(((0, 0), weight((0,), (0,), (1,)), self.period[0] * self.window[0]))
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
        first = self._sum(
            self.partitions(0, wanted),
            self.partitions(1),
            self.size,
            lambda o, _l, k: given_among(o, k, wanted),
            single,
            (0, 0),
        )
        second = self._sum(
            self.partitions(0),
            self.partitions(1, wanted),
            self.size,
            lambda _o, l, k: given_among(l, k, wanted),
            single,
            (0, 0),
        )
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
        rest = self._sum(self.partitions(0), self.partitions(1), left, everything, single, shift)
        return {key: front * a for key, a in rest.items()}

    def poly_left(self, tau: int) -> Poly:
        """The sum without one part of kind tau; not yet normalised."""
        left = tuple(s - (1 if i == tau else 0) for i, s in enumerate(self.size))
        return self._sum(self.partitions(0), self.partitions(1), left, everything, False, (0, 0))

    def poly_joined(self, role: str, companions: Counts) -> Poly:
        """The sum with some parts taken into the delivery of a part from elsewhere; not
        normalised.
        """
        n = sum(companions) + 1
        left = tuple(s - c for s, c in zip(self.size, companions, strict=True))
        scale = ways(self.size, companions) * self.alpha * factorial(n - 1)
        front = scale * self._weights(role, companions)
        shift = (n, 0) if role == "original" else (0, n)
        rest = self._sum(self.partitions(0), self.partitions(1), left, everything, False, shift)
        return {key: front * a for key, a in rest.items()}

    # -- partitions ------------------------------------------------------------------------------

    def partitions(self, which: int, wanted: Counts | None = None) -> Mapping[Counts, Array]:
        """W(n): sum over partitions of n into deliveries of alpha^K prod (size-1)! f, n <= size.

        ``which``: 0 original, 1 later.  ``wanted``: labelled parts that must share a delivery.
        """
        plain = self._plain[which]
        if wanted is None:
            return plain
        out: dict[Counts, Array] = {}
        for n in product(*(range(a, s + 1) for a, s in zip(wanted, self.size, strict=True))):
            total = self._over_blocks(n, plain, which, wanted)
            if total is not None:
                out[n] = total
        return out

    @cached_property
    def _plain(self) -> tuple[Mapping[Counts, Array], Mapping[Counts, Array]]:
        return self._all_partitions(0), self._all_partitions(1)

    def _all_partitions(self, which: int) -> Mapping[Counts, Array]:
        zero = (0,) * len(self.size)
        plain: dict[Counts, Array] = {zero: ONE}
        for n in product(*(range(s + 1) for s in self.size)):
            if n == zero:
                continue
            # the delivery that holds one given part of the first kind there is
            first = next(i for i, c in enumerate(n) if c)
            given = tuple(1 if i == first else 0 for i in range(len(n)))
            total = self._over_blocks(n, plain, which, given)
            if total is not None:
                plain[n] = total
        return plain

    def _over_blocks(
        self, n: Counts, plain: Mapping[Counts, Array], which: int, given: Counts
    ) -> Array | None:
        """Deliveries within n that hold the given parts of each kind, times the rest's W."""
        total: Array | None = None
        for b, pair in self.blocks.items():
            if any(
                take > have or take < held for have, take, held in zip(n, b, given, strict=True)
            ):
                continue
            rest = plain.get(tuple(have - take for have, take in zip(n, b, strict=True)))
            if rest is None:
                continue
            number = prod(
                comb(have - held, take - held) for have, take, held in zip(n, b, given, strict=True)
            )
            scale = self.alpha * factorial(sum(b) - 1) * number
            term = scale * pair[which] * rest
            total = term if total is None else total + term
        return total

    def _weights(self, role: str, counts: Counts) -> Array:
        out = ONE
        for tau, n in enumerate(counts):
            if n:
                a = (self.original if role == "original" else self.later)[tau]
                out = out * (a if n == 1 else a**n)
        return out

    def _sum(
        self,
        original: Mapping[Counts, Array],
        later: Mapping[Counts, Array],
        size: Counts,
        weight: Coefficient,
        single: bool,
        shift: tuple[int, int],
    ) -> Poly:
        """sum over (originals, later, period) of multinomial * W_O * W_L * period terms."""
        out: Poly = {}
        for o, w_o in original.items():
            if any(c > s for c, s in zip(o, size, strict=True)):
                continue
            left = tuple(s - c for s, c in zip(size, o, strict=True))
            beside = self._beside(o, left, later, ways(size, o), size, weight, single, shift[1])
            if not beside:
                continue
            j = sum(o) + shift[0]
            front = w_o * self._weights("original", o)
            if single:
                front = front / rising(self.alpha, j)
                j = 0
            for k, rest in beside.items():
                term = front * rest
                out[(j, k)] = out[(j, k)] + term if (j, k) in out else term
        return out

    def _beside(
        self,
        o: Counts,
        left: Counts,
        later: Mapping[Counts, Array],
        scale_o: int,
        size: Counts,
        weight: Coefficient,
        single: bool,
        shift: int,
    ) -> dict[int, Array]:
        """Later and period replacements among what is not original, by the number of later ones."""
        out: dict[int, Array] = {}
        for l, w_l in later.items():
            if any(c > s for c, s in zip(l, left, strict=True)):
                continue
            scale = scale_o * ways(left, l) * weight(o, l, size)
            if scale == 0.0:
                continue
            term = scale * w_l * self._weights("later", l)
            for tau, (s, c) in enumerate(zip(left, l, strict=True)):
                if s > c:
                    p = self.period[tau] * self.window[tau]
                    term = term * (p if s - c == 1 else p ** (s - c))
            k = sum(l) + shift
            if single:
                term = term / rising(self.alpha, k)
                k = 0
            out[k] = out[k] + term if k in out else term
        return out


def _added(a: Poly, b: Poly) -> Poly:
    out = dict(a)
    for key, value in b.items():
        out[key] = out[key] + value if key in out else value
    return out
