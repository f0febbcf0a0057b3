"""What a group of dated parts is made of, before it is evaluated on any weeks.

Which texts are alike, which can share a delivery, what each possible delivery's date can be; and a
bound on the group's likelihood by week, so that weeks without weight need not be summed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from ..marks import Vector
from . import blocks
from .bounds import window_bound
from .convolve import LagTable, later_at, later_bound, window_at
from .counting import Counts
from .dates import Dates
from .partitions import partitions_bound
from .sources import RivalSources, Sourced
from .time import Array, IntArray, on_weeks
from .workspace import Same, Workspace

Cells = tuple[Vector, ...]


@dataclass(frozen=True, eq=False)
class DatedText:
    """One split of what a part's dating marks say: its source characters and t(w).

    ``source`` None: bears no source.
    """

    source: Cells | None
    made: Dates

    @property
    def nbytes(self) -> int:
        return 4 * self.made.nbytes

    def shipped(self, spread: tuple[float, ...]) -> Dates:
        """h(D): the weeks in which the delivery can have left."""
        if spread not in self._shipped:
            self._shipped[spread] = self.made.later_by(spread)
        return self._shipped[spread]

    @cached_property
    def _shipped(self) -> dict[tuple[float, ...], Dates]:
        return {}


@dataclass(frozen=True, eq=False)
class Kind:
    """Parts that are alike in all that was seen: how many there are, and what.

    ``original``, ``later``, ``period``: prior times the parts' other marks, (M or 1, size or 1).
    """

    count: int
    texts: tuple[DatedText, ...]
    original: Array
    later: Array
    period: Array


@dataclass(frozen=True, eq=False)
class Lags:
    """What a class's dates are weighed with."""

    original: LagTable
    service: LagTable
    period_half: int
    concentration: float
    spread: tuple[float, ...]

    @property
    def key(self) -> tuple[object, ...]:
        """What they were made from."""
        return (
            self.original.key,
            self.service.key,
            self.period_half,
            self.concentration,
            self.spread,
        )


@dataclass(frozen=True, eq=False)
class Choice:
    """One way the texts of a delivery agree: its date as h over D, and its source (None: it bears
    none).
    """

    date: Dates
    source: Sourced | None


@dataclass(frozen=True, eq=False)
class Single:
    """Bounds of what one part alone says: ``made`` of f (G, blocks), ``fitted`` of g, ``period`` of
    p_i, both (blocks,) or (1,).
    """

    made: Array
    fitted: Array
    period: Array

    @property
    def nbytes(self) -> int:
        return int(self.made.nbytes + self.fitted.nbytes + self.period.nbytes)


@dataclass(frozen=True, eq=False)
class Part:
    """A component of a plan: kinds that can share deliveries, and the deliveries that are
    possible.
    """

    members: tuple[int, ...]
    size: Counts
    blocks: dict[Counts, tuple[Choice, ...]]


class Plan:
    """A group of dated parts of one class in one assembly; parts are known by their kind."""

    def __init__(
        self, kinds: Sequence[Kind], lags: Lags, sources: RivalSources, workspace: Workspace
    ) -> None:
        self.kinds = tuple(kinds)
        self.lags = lags
        self.sources = sources
        self.workspace = workspace
        self.size = lags.original.size
        self.nbytes = 4000 * (2 + len(self.kinds)) + 8 * blocks.count(self.size)
        self.lone = len(self.kinds) == 1 and self.kinds[0].count == 1

    @cached_property
    def a_probability(self) -> bool:
        """Whether the likelihood is at most one: all that multiplies its probabilities is."""
        return all(
            bool((k.original.max() + k.later.max() + k.period.max()) <= 1.0 + 1e-12)
            for k in self.kinds
        )

    @cached_property
    def shipped(self) -> tuple[tuple[Dates, ...], ...]:
        """h(D) of every text of every kind."""
        return tuple(tuple(t.shipped(self.lags.spread) for t in k.texts) for k in self.kinds)

    def weigh(self, cells: Sequence[Cells]) -> Sourced:
        """How likely some source characters are; remembered."""
        key = ("sourced", Same(self.sources), *cells)
        return self.workspace.get(key, lambda: self.sources.weigh(cells))

    def period(self, kind: int, weeks: IntArray) -> Array:
        """p_i(B) of a kind on some weeks, (1, weeks)."""
        total: Array | None = None
        for text in self.kinds[kind].texts:
            mean = window_at(text.made, self.lags.period_half, weeks)
            if text.source is not None:
                mean = mean * self.weigh([text.source]).replaced
            total = mean if total is None else total + mean
        return np.zeros((1, weeks.size)) if total is None else total[None, :]

    @cached_property
    def components(self) -> tuple[Part, ...]:
        """The kinds that can share deliveries; the same for every prior on the same texts."""
        texts = tuple((k.count, *(Same(t) for t in k.texts)) for k in self.kinds)
        key = ("components", texts, Same(self.sources), self.lags.spread)
        return self.workspace.get(key, self._find_components)

    def _find_components(self) -> tuple[Part, ...]:
        n = len(self.kinds)
        totals = [k.count for k in self.kinds]
        group = list(range(n))
        for i in range(n):
            for j in range(i + 1, n):
                if group[i] != group[j] and self._can_share(i, j):
                    group = [group[i] if g == group[j] else g for g in group]
        out: list[Part] = []
        for g in dict.fromkeys(group):
            members = tuple(i for i in range(n) if group[i] == g)
            size = tuple(totals[i] for i in members)
            possible: dict[Counts, tuple[Choice, ...]] = {}
            for local in product(*(range(s + 1) for s in size)):
                if any(local) and _one_fewer_possible(local, possible):
                    found = tuple(self.choices(members, local, None))
                    if found:
                        possible[local] = found
            out.append(Part(members, size, possible))
        return tuple(out)

    def _can_share(self, i: int, j: int) -> bool:
        return any(
            (a.source is None or b.source is None or len(a.source) == len(b.source))
            and x.times(y).possible
            for a, x in zip(self.kinds[i].texts, self.shipped[i], strict=True)
            for b, y in zip(self.kinds[j].texts, self.shipped[j], strict=True)
        )

    def choices(
        self, members: Sequence[int], counts: Counts, beside: Cells | None
    ) -> Iterator[Choice]:
        """Ways in which the texts of a delivery can agree on a source.

        ``beside``: source characters of one more part that is in the delivery, its date left open.
        """
        chosen = [(i, n) for i, n in zip(members, counts, strict=True) if n]
        options = [list(zip(self.kinds[i].texts, self.shipped[i], strict=True)) for i, _ in chosen]
        for picked in product(*options):
            cells = [
                text.source
                for (text, _), (_, n) in zip(picked, chosen, strict=True)
                if text.source is not None
                for _ in range(n)
            ]
            if beside is not None:
                cells.append(beside)
            if len({len(c) for c in cells}) > 1:
                continue
            date: Dates | None = None
            for (_, h), (_, n) in zip(picked, chosen, strict=True):
                date = h.power(n) if date is None else date.times(h.power(n))
            if date is None or not date.possible:
                continue
            if not cells:
                yield Choice(date, None)
                continue
            source = self.weigh(cells)
            if source.possible:
                yield Choice(date, source)

    def block_at(self, choices: tuple[Choice, ...], weeks: IntArray) -> tuple[Array, Array]:
        """As :meth:`delivery_at`; remembered."""
        key = ("block", Same(choices), self.lags.original.key, self.lags.service.key)
        return self.workspace.passing.get(
            (*key, weeks.tobytes()), lambda: self.delivery_at(choices, weeks)
        )

    def delivery_at(
        self, choices: Sequence[Choice], weeks: IntArray, prior: Array | None = None
    ) -> tuple[Array, Array]:
        """f_b and g_b of a delivery on some weeks, (M or 1, U, weeks) and (1, 1, weeks).

        ``prior``: what f_b is multiplied by, (M or 1, weeks or 1).
        """
        f: Array | None = None
        g: Array | None = None
        for c in choices:
            made = self.lags.original.forward(c.date, self.workspace, weeks)[None]
            fitted = later_at(c.date, self.lags.service, self.workspace, weeks)[None, None]
            p = prior
            if c.source is not None:
                p = on_weeks(c.source.original, weeks)
                p = p if prior is None else p * prior
                fitted = fitted * c.source.replaced
            if p is not None:
                made = made * p[:, None]
            f = made if f is None else f + made
            g = fitted if g is None else g + fitted
        assert f is not None and g is not None
        return f, g

    # -- bounds ------------------------------------------------------------------------------------

    @cached_property
    def bound(self) -> Array:
        """At least the likelihood of the group, by group of stock ages and block of weeks; (G,
        blocks).

        Components were never likelier to stand together as they do than each of them alone.
        """
        out: Array | None = None
        for part in self.components:
            one = self._bound_of(part)
            out = one if out is None else out * one
        assert out is not None
        return out

    def _bound_of(self, part: Part) -> Array:
        priors = [self._highest(i) for i in part.members]
        terms: dict[Counts, Array] = {}
        for i, (member, (original, later, period)) in enumerate(
            zip(part.members, priors, strict=True)
        ):
            single = self._single(member)
            alone = original * single.made + (later * single.fitted + period * single.period)
            if part.size == (1,):
                return alone
            terms[tuple(1 if j == i else 0 for j in range(len(part.size)))] = alone
        for b, choices in part.blocks.items():
            if sum(b) > 1:
                made, fitted = self._bound_of_delivery(choices)
                for (original, later, _), n in zip(priors, b, strict=True):
                    if n:
                        made = made * (original if n == 1 else original**n)
                        fitted = fitted * (later if n == 1 else later**n)
                terms[b] = made + fitted
        return partitions_bound(part.size, terms, self.lags.concentration)

    def _highest(self, kind: int) -> list[Array]:
        """Prior times other marks at their highest over models and blocks, by origin."""
        k = self.kinds[kind]
        return [blocks.highest(a.max(axis=0)) for a in (k.original, k.later, k.period)]

    def _bound_of_delivery(self, choices: tuple[Choice, ...]) -> tuple[Array, Array]:
        """f_b and g_b at their highest, (G, blocks) and (blocks,); remembered."""
        key = ("bound", Same(choices), self.lags.original.key, self.lags.service.key)
        return self.workspace.get(key, lambda: self._bounds(choices))

    def _bounds(self, choices: Iterable[Choice]) -> tuple[Array, Array]:
        made, fitted = np.zeros((1, 1)), np.zeros(1)
        for c in choices:
            f = self.lags.original.bounds.made(c.date)
            g = later_bound(c.date, self.lags.service)
            if c.source is not None:
                f = f * c.source.bound
                g = g * c.source.replaced
            made = made + f
            fitted = fitted + g
        return made, fitted

    def _single(self, kind: int) -> Single:
        texts = self.kinds[kind].texts
        key = (
            "single",
            tuple(Same(t) for t in texts),
            Same(self.sources),
            self.lags.original.key,
            self.lags.service.key,
            self.lags.spread,
            self.lags.period_half,
        )
        return self.workspace.get(key, lambda: self._made_single(kind))

    def _made_single(self, kind: int) -> Single:
        made, fitted = self._bounds(self.choices((kind,), (1,), None))
        window: Array = np.zeros(1)
        for text in self.kinds[kind].texts:
            mean = window_bound(text.made, self.lags.period_half)
            if text.source is not None:
                mean = mean * self.weigh([text.source]).replaced
            window = window + mean
        return Single(made, fitted, window)


def _one_fewer_possible(local: Counts, possible: dict[Counts, tuple[Choice, ...]]) -> bool:
    """A delivery can only be possible if it is with one part fewer."""
    if sum(local) == 1:
        return True
    return all(
        tuple(c - (1 if j == i else 0) for j, c in enumerate(local)) in possible
        for i, n in enumerate(local)
        if n
    )
