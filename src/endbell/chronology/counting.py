"""Which counts of parts meet in a sum over origins and partitions, and with what weight.

Pure combinatorics on small numbers; remembered, for the same few cases come again and again.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from math import comb, factorial, prod

import numpy as np

from .time import Array, IntArray

Counts = tuple[int, ...]


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


@dataclass(frozen=True, eq=False)
class Table:
    """Which terms meet: for each original (``starts``: its first pair) later ones and spares."""

    originals: IntArray
    original_size: IntArray
    starts: IntArray
    later: IntArray
    later_size: IntArray
    spare: IntArray


@lru_cache(maxsize=512)
def table_of(
    originals: tuple[Counts, ...],
    later: tuple[Counts, ...],
    spare: tuple[Counts, ...],
    size: Counts,
) -> Table:
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
    return Table(
        np.array(chosen, dtype=np.int64),
        np.array([sum(originals[i]) for i in chosen], dtype=np.int64),
        np.array(starts, dtype=np.int64),
        columns[:, 0],
        columns[:, 1],
        columns[:, 2],
    )


def risings(alpha: float, n: IntArray) -> Array:
    """alpha (alpha + 1) ... (alpha + n - 1), element by element."""
    known = np.array([rising(alpha, i) for i in range(int(n.max(initial=0)) + 1)])
    return known[n]


Steps = tuple[tuple[Counts, tuple[tuple[Counts, Counts, float], ...]], ...]
"""For every n in order: the deliveries b within it, what is left, and the weight."""


@lru_cache(maxsize=256)
def steps_of(
    size: Counts, blocks: tuple[Counts, ...], alpha: float, wanted: Counts | None
) -> Steps:
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
