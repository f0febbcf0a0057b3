"""The dated parts of one class in one assembly, summed over origins and deliveries.

Parts with the same text and the same other marks are exchangeable, so the sums run over *counts* of
each kind of text.  A set of kinds that can't share a delivery with the rest is a component; only the
Ewens normaliser couples components, through the numbers of originals and of later replacements.
docs/model.md, section 6.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from itertools import product
from functools import cached_property
from math import comb, factorial, prod

import numpy as np

from ..marks import Vector
from .convolve import LagTable, later_forward, window_mean
from .sources import Sources
from .texts import delivered
from .time import Array, IntArray
from .workspace import Workspace

Counts = tuple[int, ...]
Poly = dict[tuple[int, int], Array]
"""Coefficient arrays by (number of originals, number of later replacements)."""


@dataclass(frozen=True, eq=False)
class DatedText:
    """One split of what a part's dating marks say: its source characters and t(w).

    ``source`` None: bears no source. ``made``: t, shape (size,).
    """

    source: tuple[Vector, ...] | None
    made: Array


@dataclass(frozen=True, eq=False)
class Kind:
    """Parts that are alike in all that was seen. ``key`` says what they are alike in.

    ``original``, ``later``, ``period``: prior times the part's other marks, shape (size,) or scalar.
    """

    parts: tuple[str, ...]
    texts: tuple[DatedText, ...]
    original: Array
    later: Array
    period: Array
    key: tuple[object, ...]


@dataclass(frozen=True, eq=False)
class Lags:
    """What a class's dates are weighed with."""

    original: LagTable
    service: LagTable
    period_half: int
    concentration: float


Coefficient = Callable[[Counts, Counts, Counts], float]
"""Weight of a term, given how many of each kind are original, later, and there at all."""


def _all(_o: Counts, _l: Counts, _k: Counts) -> float:
    return 1.0


class Deliveries:
    """The likelihood of one group of dated parts, and of anything asked about it.

    All arrays have shape (U, size) or broadcast to it.
    """

    def __init__(
        self, kinds: Sequence[Kind], lags: Lags, sources: Sources, workspace: Workspace
    ) -> None:
        self.kinds = tuple(kinds)
        self.lags = lags
        self.sources = sources
        self._ws = workspace
        self._size = lags.original.size
        self.place = {
            part: (k, i) for k, kind in enumerate(self.kinds) for i, part in enumerate(kind.parts)
        }
        self.period = [self._period(kind) for kind in self.kinds]
        self.components = self._find_components()

    def on(self, weeks: IntArray) -> Deliveries:
        """The same group seen on some build weeks only: every array cut to them."""
        cut = copy(self)
        cut.kinds = tuple(
            replace(
                k, original=_cut(k.original, weeks), later=_cut(k.later, weeks),
                period=_cut(k.period, weeks),
            )
            for k in self.kinds
        )
        cut.period = [p[weeks] for p in self.period]
        cut.components = tuple(
            Component(
                cut, c.members, c.size, {b: (f[:, weeks], g[weeks]) for b, (f, g) in c.blocks.items()}
            )
            for c in self.components
        )
        return cut

    # -- deliveries ------------------------------------------------------------------------------

    def choices(self, counts: Counts) -> Iterator[tuple[Array, Array, float]]:
        """Ways in which the texts of a delivery can agree on a source length.

        Yields (product of h over D, P(source | original) by B, P(source | replaced)).
        """
        chosen = [kind for kind, n in zip(self.kinds, counts, strict=True) if n]
        numbers = [n for n in counts if n]
        for texts in product(*(kind.texts for kind in chosen)):
            sourced = [t.source for t in texts if t.source is not None]
            if len({len(s) for s in sourced}) > 1:
                continue
            date = np.ones(self._size)
            for text, n in zip(texts, numbers, strict=True):
                h = delivered(text.made)
                date = date * (h if n == 1 else h**n)
            if not date.any():
                continue
            if sourced:
                cells = [
                    t.source for t, n in zip(texts, numbers, strict=True) for _ in range(n)
                    if t.source is not None
                ]
                original, replaced = self.sources.weigh(cells)
            else:
                original, replaced = np.ones(self._size), 1.0
            yield date, original, replaced

    def _block(self, counts: Counts) -> tuple[Array, Array] | None:
        """f_b(B,u) and g_b(B) of a delivery with these counts; None if it can't be."""
        found = False
        f = np.zeros((self.lags.original.table.shape[0], self._size))
        g = np.zeros(self._size)
        for date, original, replaced in self.choices(counts):
            found = True
            at = np.flatnonzero(date)
            key = (self.lags.original.key, at.tobytes(), date[at].tobytes())
            conv = self._ws.get(
                ("made", *key), lambda date=date: self.lags.original.forward(date, self._ws)
            )
            f += conv * original
            fitted = self._ws.get(
                ("fitted", self.lags.service.key, *key[1:]),
                lambda date=date: later_forward(date, self.lags.service, self._ws),
            )
            g += fitted * replaced
        return (f, g) if found else None

    def _period(self, kind: Kind) -> Array:
        out = np.zeros(self._size)
        for text in kind.texts:
            share = 1.0 if text.source is None else self.sources.weigh([text.source])[1]
            out += share * window_mean(text.made, self.lags.period_half)
        return out

    def _find_components(self) -> tuple[Component, ...]:
        """Kinds joined by deliveries that could hold both, with their possible deliveries."""
        n = len(self.kinds)
        totals = tuple(len(k.parts) for k in self.kinds)
        support = [
            [(t.source and len(t.source), delivered(t.made) > 0.0) for t in kind.texts]
            for kind in self.kinds
        ]

        def can_share(i: int, j: int) -> bool:
            return any(
                (a is None or b is None or a == b) and bool((x & y).any())
                for a, x in support[i] for b, y in support[j]
            )

        group = list(range(n))
        for i in range(n):
            for j in range(i + 1, n):
                if group[i] != group[j] and can_share(i, j):
                    group = [group[i] if g == group[j] else g for g in group]
        components: list[Component] = []
        for g in dict.fromkeys(group):
            members = tuple(i for i in range(n) if group[i] == g)
            size = tuple(totals[i] for i in members)
            blocks: dict[Counts, tuple[Array, Array]] = {}
            for local in product(*(range(s + 1) for s in size)):
                if not any(local) or not _parts_possible(local, blocks):
                    continue
                counts = [0] * n
                for i, c in zip(members, local, strict=True):
                    counts[i] = c
                block = self._block(tuple(counts))
                if block is not None:
                    blocks[local] = block
            components.append(Component(self, members, size, blocks))
        return tuple(components)

    # -- sums ------------------------------------------------------------------------------------

    def total(self) -> Array:
        """The likelihood of the group, shape (U, size)."""
        return self.where({})

    def where(self, coefficients: Mapping[int, Coefficient]) -> Array:
        """The likelihood with the terms of some components weighted; shape (U, size)."""
        polys = [
            c.poly(coefficients.get(i, _all), single=len(self.components) == 1)
            for i, c in enumerate(self.components)
        ]
        return self.combine(polys)

    def combine(self, polys: Sequence[Poly]) -> Array:
        """Multiply the components and apply the Ewens normaliser."""
        out = polys[0]
        for poly in polys[1:]:
            mixed: Poly = {}
            for (j, k), a in out.items():
                for (x, y), b in poly.items():
                    key = (j + x, k + y)
                    term = a * b
                    mixed[key] = mixed[key] + term if key in mixed else term
            out = mixed
        alpha = self.lags.concentration
        total: Array | float = 0.0
        for (j, k), a in out.items():
            total = total + a / (_rising(alpha, j) * _rising(alpha, k))
        return np.asarray(total)

    def component_of(self, part: str) -> tuple[int, int]:
        """Index of the component and, in it, of the kind a part belongs to."""
        kind = self.place[part][0]
        for i, c in enumerate(self.components):
            if kind in c.members:
                return i, c.members.index(kind)
        raise KeyError(part)

    def all_original(self, parts: Sequence[str]) -> Array:
        """The likelihood with all of ``parts`` original; shape (U, size)."""
        wanted = self.counts_of(parts)
        coefficients: dict[int, Coefficient] = {}
        for i, counts in wanted.items():
            def weight(o: Counts, _l: Counts, k: Counts, a: Counts = counts) -> float:
                return _chosen(o, k, a)

            coefficients[i] = weight
        return self.where(coefficients)

    def origins(self, part: str) -> tuple[Array, Array, Array]:
        """The likelihood with the part original, later, period; each shape (U, size)."""
        i, tau = self.component_of(part)

        def share(which: int) -> Coefficient:
            return lambda o, l, k: ((o, l)[which][tau]) / k[tau]

        original = self.where({i: share(0)})
        later = self.where({i: share(1)})
        period = self.where({i: lambda o, l, k: (k[tau] - o[tau] - l[tau]) / k[tau]})
        return original, later, period

    def together(self, parts: Sequence[str]) -> Array | None:
        """The likelihood with all of ``parts`` in one delivery; None if they can't share one."""
        wanted = self.counts_of(parts)
        if len(wanted) != 1:
            return None
        ((i, counts),) = wanted.items()
        single = len(self.components) == 1
        polys = [c.poly(_all, single=single) for c in self.components]
        component = self.components[i]
        if not any(all(b >= a for b, a in zip(block, counts, strict=True)) for block in component.blocks):
            return None
        polys[i] = component.poly_together(counts, single=single)
        return self.combine(polys)

    def counts_of(self, parts: Sequence[str]) -> dict[int, Counts]:
        """How many of ``parts`` are of each kind, by component."""
        out: dict[int, list[int]] = {}
        for part in parts:
            i, tau = self.component_of(part)
            out.setdefault(i, [0] * len(self.components[i].members))[tau] += 1
        return {i: tuple(c) for i, c in out.items()}


class Component:
    """Kinds that can share deliveries, with the deliveries that are possible among them."""

    def __init__(
        self,
        group: Deliveries,
        members: tuple[int, ...],
        size: Counts,
        blocks: Mapping[Counts, tuple[Array, Array]],
    ) -> None:
        self.group = group
        self.members = members
        self.size = size
        self.blocks = blocks
        self.alpha = group.lags.concentration

    def poly(self, weight: Coefficient, *, single: bool) -> Poly:
        """Sum over origins and partitions of this component, by numbers of originals and later ones.

        ``single``: no other component to mix with, so the Ewens normaliser is applied at once.
        """
        return self._sum(self.partitions(0), self.partitions(1), self.size, weight, single, (0, 0))

    def poly_together(self, wanted: Counts, *, single: bool) -> Poly:
        """The same, with the wanted counts in one (original or later) delivery."""
        def choose(which: int) -> Coefficient:
            return lambda o, l, k: _chosen((o, l)[which], k, wanted)

        first = self._sum(
            self.partitions(0, wanted), self.partitions(1), self.size, choose(0), single, (0, 0)
        )
        second = self._sum(
            self.partitions(0), self.partitions(1, wanted), self.size, choose(1), single, (0, 0)
        )
        return _added(first, second)

    def partitions(self, which: int, wanted: Counts | None = None) -> dict[Counts, Array]:
        """W(n): sum over partitions of n into deliveries of alpha^K prod (size-1)! f, n <= size.

        ``which``: 0 original, 1 later.  ``wanted``: labelled parts that must share a delivery.
        """
        plain = self._plain[which]
        if wanted is None:
            return plain
        out: dict[Counts, Array] = {}
        for n in product(*(range(a, s + 1) for a, s in zip(wanted, self.size, strict=True))):
            total = self._over_blocks(n, plain, which, lambda i, a=wanted: a[i])
            if total is not None:
                out[n] = total
        return out

    @cached_property
    def _plain(self) -> tuple[dict[Counts, Array], dict[Counts, Array]]:
        return self._all_partitions(0), self._all_partitions(1)

    def _all_partitions(self, which: int) -> dict[Counts, Array]:
        zero = (0,) * len(self.size)
        plain: dict[Counts, Array] = {zero: np.ones((1, 1))}
        for n in product(*(range(s + 1) for s in self.size)):
            if n == zero:
                continue
            first = next(i for i, c in enumerate(n) if c)
            total = self._over_blocks(n, plain, which, lambda i, f=first: 1 if i == f else 0)
            if total is not None:
                plain[n] = total
        return plain

    def _over_blocks(
        self, n: Counts, plain: Mapping[Counts, Array], which: int, fixed: Callable[[int], int]
    ) -> Array | None:
        """Deliveries within n that hold ``fixed(i)`` given parts of each kind, times the rest's W."""
        total: Array | None = None
        for b, pair in self.blocks.items():
            ways = 1
            for i, (have, take) in enumerate(zip(n, b, strict=True)):
                held = fixed(i)
                if take > have or take < held:
                    ways = 0
                    break
                ways *= comb(have - held, take - held)
            if not ways:
                continue
            rest = plain.get(tuple(have - take for have, take in zip(n, b, strict=True)))
            if rest is None:
                continue
            scale = self.alpha * factorial(sum(b) - 1) * ways
            f = pair[which] if which == 0 else pair[which][None, :]
            term = scale * f * rest
            total = term if total is None else total + term
        return total

    def without(self, tau: int, companions: Counts) -> Counts:
        """How many of each kind are left beside one part of kind tau and its companions."""
        return tuple(
            s - c - (1 if i == tau else 0) for i, (s, c) in enumerate(zip(self.size, companions, strict=True))
        )

    def poly_beside(
        self, tau: int, role: str, companions: Counts, *, single: bool
    ) -> Poly | None:
        """What multiplies the date of one part of kind tau, in a role, with companions in its delivery.

        ``role``: 'original', 'later' or 'period' (then no companions).  None if impossible.
        """
        left = self.without(tau, companions)
        if any(c < 0 for c in left):
            return None
        alike = tuple(s - (1 if i == tau else 0) for i, s in enumerate(self.size))
        ways = float(_ways(alike, companions))
        taken = tuple(c + (1 if i == tau else 0) for i, c in enumerate(companions))
        n = sum(taken)
        if role == "period":
            front = ways * self._kind(tau).period
            shift = (0, 0)
        else:
            front = ways * self.alpha * factorial(n - 1) * self._weights(role, taken)
            shift = (n, 0) if role == "original" else (0, n)
        rest = self._sum(self.partitions(0), self.partitions(1), left, _all, single, shift)
        return {key: front * a for key, a in rest.items()}

    def _kind(self, tau: int) -> Kind:
        return self.group.kinds[self.members[tau]]

    def _weights(self, role: str, counts: Counts) -> Array:
        out: Array = np.ones(1)
        for tau, n in enumerate(counts):
            if n:
                kind = self._kind(tau)
                out = out * (kind.original if role == "original" else kind.later) ** n
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
        for o in product(*(range(s + 1) for s in size)):
            w_o = original.get(o)
            if w_o is None:
                continue
            left = tuple(s - c for s, c in zip(size, o, strict=True))
            ways_o = _ways(size, o)
            beside: dict[int, Array] = {}
            for l in product(*(range(s + 1) for s in left)):
                w_l = later.get(l)
                if w_l is None:
                    continue
                ways = float(ways_o * _ways(left, l))
                scale = ways * weight(o, l, size)
                if scale == 0.0:
                    continue
                term = scale * w_l * self._weights("later", l)
                for tau, (s, c) in enumerate(zip(left, l, strict=True)):
                    if s > c:
                        index = self.members[tau]
                        p = self.group.kinds[index].period * self.group.period[index]
                        term = term * p ** (s - c)
                k = sum(l) + shift[1]
                if single:
                    term = term / _rising(self.alpha, k)
                    k = 0
                beside[k] = beside[k] + term if k in beside else term
            if not beside:
                continue
            j = sum(o) + shift[0]
            front = w_o * self._weights("original", o)
            if single:
                front = front / _rising(self.alpha, j)
                j = 0
            for k, rest in beside.items():
                term = front * rest
                out[(j, k)] = out[(j, k)] + term if (j, k) in out else term
        return out


def _parts_possible(local: Counts, blocks: Mapping[Counts, object]) -> bool:
    """A delivery can only be possible if it is with one part fewer."""
    if sum(local) == 1:
        return True
    return all(
        tuple(c - (1 if j == i else 0) for j, c in enumerate(local)) in blocks
        for i, n in enumerate(local) if n
    )


def _chosen(have: Counts, of: Counts, wanted: Counts) -> float:
    """P(given labelled parts are among ``have`` of ``of``), every choice equally likely."""
    out = 1.0
    for h, k, a in zip(have, of, wanted, strict=True):
        for i in range(a):
            out *= max(h - i, 0) / (k - i)
    return out


def _ways(of: Counts, chosen: Counts) -> int:
    return prod(comb(k, c) for k, c in zip(of, chosen, strict=True))


def _rising(alpha: float, n: int) -> float:
    """alpha (alpha + 1) ... (alpha + n - 1)."""
    out = 1.0
    for i in range(n):
        out *= alpha + i
    return out


def _cut(a: Array, weeks: IntArray) -> Array:
    return a[weeks] if a.shape[-1] > 1 else a


def _added(a: Poly, b: Poly) -> Poly:
    out = dict(a)
    for key, value in b.items():
        out[key] = out[key] + value if key in out else value
    return out
