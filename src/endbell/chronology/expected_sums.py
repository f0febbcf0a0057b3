"""The sum over origins and deliveries, differentiated: how much each delivery and each part adds.

The sum itself is that of :mod:`~endbell.chronology.partitions`; here it is followed once forwards
and once backwards, so that one pass gives the derivative by all deliveries at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from math import comb, factorial, prod

import numpy as np

from .counting import Counts, rising
from .time import Array


@dataclass(frozen=True, eq=False)
class Derivative:
    """Of the logarithm of the group's likelihood, weighted and summed over what a factor lacks.

    ``by_f``: by f_b, (blocks, M, U, weeks); ``by_g``: by g_b, (blocks, weeks).  ``original``,
    ``later``, ``period``: expected parts of every kind, (kinds, M, weeks).  ``original_square``:
    the expected square of the number of originals.
    """

    by_f: Array
    by_g: Array
    original: Array
    later: Array
    period: Array
    original_square: float


def differentiate(
    size: Counts,
    blocks: Sequence[Counts],
    deliveries: tuple[Array, Array],
    priors: tuple[Sequence[Array], Sequence[Array], Sequence[Array]],
    alpha: float,
    weight: Array,
) -> Derivative:
    """``size``: parts of every kind; ``blocks``: the counts of each possible delivery.

    ``deliveries``: f (blocks, M, U, weeks) and g (blocks, weeks); ``priors``: prior times other
    marks of every kind if original, later, and period (with p_i), (M or 1, 1, weeks or 1);
    ``weight``: of (m, u, B), (M, U, weeks).
    """
    if size == (1,):
        return _of_one(bool(blocks), deliveries, priors, weight)
    return _Sum(size, tuple(blocks), deliveries, priors, alpha).backward(weight)


def _of_one(
    possible: bool,
    deliveries: tuple[Array, Array],
    priors: tuple[Sequence[Array], Sequence[Array], Sequence[Array]],
    weight: Array,
) -> Derivative:
    """One part alone: V = o f + l g + p."""
    models, _, weeks = weight.shape
    (original,), (later,), (period,) = priors
    f, g = deliveries
    value = period
    if possible:
        value = original * f[0] + (later * g[0] + period)
    q = _over(weight, value)
    by_age = q.sum(axis=1)
    period_n = np.broadcast_to(by_age * period[:, 0], (models, weeks))
    if not possible:
        nothing = np.zeros((1, models, weeks))
        return Derivative(
            np.zeros((0, *weight.shape)),
            np.zeros((0, weeks)),
            nothing,
            nothing,
            period_n[None],
            0.0,
        )
    by_f = q * original
    by_later = by_age * later[:, 0]
    original_n = (by_f * f[0]).sum(axis=1)
    return Derivative(
        by_f[None],
        by_later.sum(axis=0)[None],
        original_n[None],
        (by_later * g[0])[None],
        period_n[None],
        float(original_n.sum()),
    )


class _Sum:
    """Any number of parts; arrays by counts of each kind."""

    def __init__(
        self,
        size: Counts,
        blocks: tuple[Counts, ...],
        deliveries: tuple[Array, Array],
        priors: tuple[Sequence[Array], Sequence[Array], Sequence[Array]],
        alpha: float,
    ) -> None:
        self.size, self.blocks, self.alpha = size, blocks, alpha
        self.f, self.g = deliveries[0], deliveries[1][:, None, None, :]
        self.priors = priors
        self.steps = _steps(size, blocks, alpha)

    def backward(self, weight: Array) -> Derivative:
        w_original, w_later = self._partitions(self.f), self._partitions(self.g)
        front_o = {n: self._front(0, n, normal=True) for n in w_original}
        front_l = {n: self._front(1, n, normal=True) for n in w_later}
        a = {n: w * front_o[n] for n, w in w_original.items()}
        b = {n: w * front_l[n] for n, w in w_later.items()}
        c = {n: self._front(2, n, normal=False) for n in _within(self.size)}
        rest = {n: self._beside(n, b, c) for n in a}
        value = sum((a[n] * rest[n] for n in a), np.zeros((1, 1, 1)))
        q = _over(weight, value)
        to_a = {n: q * rest[n] for n in a}
        to_rest = {n: (q * a[n]).sum(axis=1, keepdims=True) for n in a}
        to_b, to_c = self._split(to_rest, b, c)
        by_f = self._deliveries({n: to_a[n] * front_o[n] for n in a}, w_original, self.f)
        flat_b = {n: (x * front_l[n]).sum(axis=0, keepdims=True) for n, x in to_b.items()}
        by_g = self._deliveries(flat_b, w_later, self.g)
        models, _, weeks = weight.shape
        return Derivative(
            by_f,
            by_g[:, 0, 0],
            self._parts(to_a, a, models, weeks),
            self._parts(to_b, b, models, weeks),
            self._parts(to_c, c, models, weeks),
            sum(sum(n) ** 2 * float((x * a[n]).sum()) for n, x in to_a.items()),
        )

    def _partitions(self, each: Array) -> dict[Counts, Array]:
        """W(n): sum over partitions of n of alpha^K prod (size - 1)! f."""
        found: dict[Counts, Array] = {(0,) * len(self.size): np.ones((1, 1, 1))}
        for n, ways in self.steps:
            total: Array | None = None
            for block, left, scale in ways:
                w = found.get(left)
                if w is not None:
                    term = scale * each[block] * w
                    total = term if total is None else total + term
            if total is not None:
                found[n] = total
        return found

    def _deliveries(self, to_w: dict[Counts, Array], w: dict[Counts, Array], each: Array) -> Array:
        """The transpose of the recursion: by each delivery, (blocks, ...)."""
        out = np.zeros(
            (
                len(self.blocks),
                *np.broadcast_shapes(each.shape[1:], *(x.shape for x in to_w.values())),
            )
        )
        to_w = dict(to_w)
        for n, ways in reversed(self.steps):
            mine = to_w.get(n)
            if mine is None:
                continue
            for block, left, scale in ways:
                if left not in w:
                    continue
                scaled = scale * mine
                out[block] += scaled * w[left]
                if any(left):
                    term = scaled * each[block]
                    to_w[left] = to_w[left] + term if left in to_w else term
        return out

    def _front(self, which: int, n: Counts, *, normal: bool) -> Array:
        """prior^n / n!, and for deliveries the Ewens normaliser."""
        out: Array = np.full((1, 1, 1), 1.0 / prod(factorial(c) for c in n))
        for prior, c in zip(self.priors[which], n, strict=True):
            if c:
                out = out * (prior if c == 1 else prior**c)
        return out / rising(self.alpha, sum(n)) if normal else out

    def _beside(self, n: Counts, b: dict[Counts, Array], c: dict[Counts, Array]) -> Array:
        left = _less(self.size, n)
        return sum((b[l] * c[_less(left, l)] for l in b if _fits(l, left)), np.zeros((1, 1, 1)))

    def _split(
        self, to_rest: dict[Counts, Array], b: dict[Counts, Array], c: dict[Counts, Array]
    ) -> tuple[dict[Counts, Array], dict[Counts, Array]]:
        to_b: dict[Counts, Array] = {}
        to_c: dict[Counts, Array] = {}
        for n, x in to_rest.items():
            left = _less(self.size, n)
            for l in b:
                if _fits(l, left):
                    p = _less(left, l)
                    _into(to_b, l, x * c[p])
                    _into(to_c, p, x * b[l])
        return to_b, to_c

    def _parts(
        self, to: dict[Counts, Array], values: dict[Counts, Array], models: int, weeks: int
    ) -> Array:
        out = np.zeros((len(self.size), models, weeks))
        for n, x in to.items():
            if any(n):
                term = (x * values[n]).sum(axis=1)
                for kind, count in enumerate(n):
                    if count:
                        out[kind] += count * term
        return out


def _over(weight: Array, value: Array) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(value > 0, weight / value, 0.0)


def _into(found: dict[Counts, Array], key: Counts, term: Array) -> None:
    found[key] = found[key] + term if key in found else term


def _less(a: Counts, b: Counts) -> Counts:
    return tuple(x - y for x, y in zip(a, b, strict=True))


def _fits(a: Counts, within: Counts) -> bool:
    return all(x <= y for x, y in zip(a, within, strict=True))


def _within(size: Counts) -> list[Counts]:
    return list(product(*(range(s + 1) for s in size)))


Steps = tuple[tuple[Counts, tuple[tuple[int, Counts, float], ...]], ...]
"""For every n in order: the deliveries within it (by index), what is left, and the weight."""


@lru_cache(maxsize=256)
def _steps(size: Counts, blocks: tuple[Counts, ...], alpha: float) -> Steps:
    out: list[tuple[Counts, tuple[tuple[int, Counts, float], ...]]] = []
    for n in _within(size):
        if not any(n):
            continue
        # the delivery that holds one given part of the first kind there is
        first = next(i for i, c in enumerate(n) if c)
        given = tuple(1 if i == first else 0 for i in range(len(n)))
        found: list[tuple[int, Counts, float]] = []
        for index, block in enumerate(blocks):
            if _fits(given, block) and _fits(block, n):
                number = prod(comb(h - g, t - g) for h, t, g in zip(n, block, given, strict=True))
                scale = alpha * factorial(sum(block) - 1) * number
                found.append((index, _less(n, block), scale))
        out.append((n, tuple(found)))
    return tuple(out)
