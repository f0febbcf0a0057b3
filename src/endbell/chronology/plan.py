"""What a group of dated parts is made of, before it is evaluated on any weeks.

Which texts are alike, which can share a delivery, what each possible delivery's date can be; and a
bound on the group's likelihood by week, so that weeks without weight need not be summed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from ..marks import Vector
from .convolve import LagTable, later_forward, window_mean
from .partitions import Counts
from .sources import RivalSources
from .texts import delivered
from .time import Array, IntArray
from .workspace import Same, Workspace

Cells = tuple[Vector, ...]


@dataclass(frozen=True, eq=False)
class DatedText:
    """One split of what a part's dating marks say: its source characters and t(w).

    ``source`` None: bears no source. ``made``: t, shape (size,).
    """

    source: Cells | None
    made: Array


@dataclass(frozen=True, eq=False)
class Kind:
    """Parts that are alike in all that was seen.

    ``original``, ``later``, ``period``: prior times the parts' other marks, (M or 1, size or 1).
    """

    parts: tuple[str, ...]
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
    """One way the texts of a delivery agree: its date as h over D, and P(source), (M or 1, size)
    and (1,).
    """

    date: Array
    original: Array | None
    replaced: Array | None


@dataclass(frozen=True, eq=False)
class Part:
    """A component of a plan: kinds that can share deliveries, and the deliveries that are
    possible.
    """

    members: tuple[int, ...]
    size: Counts
    blocks: dict[Counts, tuple[Choice, ...]]


class Plan:
    """A group of dated parts of one class in one assembly."""

    def __init__(
        self, kinds: Sequence[Kind], lags: Lags, sources: RivalSources, workspace: Workspace
    ) -> None:
        self.kinds = tuple(kinds)
        self.lags = lags
        self.sources = sources
        self.workspace = workspace
        self.size = lags.original.size
        # what is worked out later and kept: per kind h, t, p_i and the dates of some deliveries
        self.nbytes = 8 * self.size * (2 + 6 * len(self.kinds))
        self.parts = tuple(p for kind in self.kinds for p in kind.parts)
        self._kept: dict[str, Array] = {}
        self.place = {part: k for k, kind in enumerate(self.kinds) for part in kind.parts}

    def remember(self, name: str, make: Callable[[], Array]) -> Array:
        """Something worked out from the plan alone, kept with it."""
        if name not in self._kept:
            self._kept[name] = make()
        return self._kept[name]

    @cached_property
    def a_probability(self) -> bool:
        """Whether the likelihood is at most one: all that multiplies its probabilities is."""
        return all(
            bool((k.original.max() + k.later.max() + k.period.max()) <= 1.0 + 1e-12)
            for k in self.kinds
        )

    @cached_property
    def shipped(self) -> tuple[tuple[Array, ...], ...]:
        """h(D) of every text of every kind."""
        return tuple(
            tuple(delivered(t.made, self.lags.spread) for t in kind.texts) for kind in self.kinds
        )

    @cached_property
    def period(self) -> tuple[Array, ...]:
        """p_i(B) of every kind, (1, size)."""
        out: list[Array] = []
        for kind in self.kinds:
            total = np.zeros((1, self.size))
            for text in kind.texts:
                mean = window_mean(text.made, self.lags.period_half)[None, :]
                if text.source is not None:
                    mean = mean * self.sources.weigh([text.source])[1][:, None]
                total = total + mean
            out.append(total)
        return tuple(out)

    @cached_property
    def components(self) -> tuple[Part, ...]:
        """The kinds that can share deliveries; the same for every prior on the same texts."""
        texts = tuple((len(k.parts), *(Same(t) for t in k.texts)) for k in self.kinds)
        key = ("components", texts, Same(self.sources), self.lags.spread)
        return self.workspace.get(key, self._find_components)

    def _find_components(self) -> tuple[Part, ...]:
        n = len(self.kinds)
        totals = [len(k.parts) for k in self.kinds]
        group = list(range(n))
        for i in range(n):
            for j in range(i + 1, n):
                if group[i] != group[j] and self._can_share(i, j):
                    group = [group[i] if g == group[j] else g for g in group]
        out: list[Part] = []
        for g in dict.fromkeys(group):
            members = tuple(i for i in range(n) if group[i] == g)
            size = tuple(totals[i] for i in members)
            blocks: dict[Counts, tuple[Choice, ...]] = {}
            for local in product(*(range(s + 1) for s in size)):
                if any(local) and _one_fewer_possible(local, blocks):
                    found = tuple(self.choices(members, local, None))
                    if found:
                        blocks[local] = found
            out.append(Part(members, size, blocks))
        return tuple(out)

    def _can_share(self, i: int, j: int) -> bool:
        return any(
            (a.source is None or b.source is None or len(a.source) == len(b.source))
            and bool(((x > 0) & (y > 0)).any())
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
            date: Array = np.ones(self.size)
            for (_, h), (_, n) in zip(picked, chosen, strict=True):
                date = date * (h if n == 1 else h**n)
            if not date.any():
                continue
            if not cells:
                yield Choice(date, None, None)
                continue
            original, replaced = self.sources.weigh(cells)
            if original.any() or replaced.any():
                yield Choice(date, original, replaced)

    def fitted(self, date: Array) -> Array:
        """The same through the service lag, mean over service weeks after B, (size,);
        remembered.
        """
        key = ("fitted", self.lags.service.key, *_key(date))
        return self.workspace.get(
            key, lambda: later_forward(date, self.lags.service, self.workspace)
        )

    def block_at(self, choices: tuple[Choice, ...], weeks: IntArray) -> tuple[Array, Array]:
        """f_b and g_b of a delivery on some weeks, (M or 1, U, weeks) and (1, 1, weeks)."""
        key = ("block", Same(choices), self.lags.original.key, self.lags.service.key)
        return self.workspace.get((*key, weeks.tobytes()), lambda: self._block_at(choices, weeks))

    def _block_at(self, choices: Sequence[Choice], weeks: IntArray) -> tuple[Array, Array]:
        f: Array | None = None
        g: Array | None = None
        for c in choices:
            made = self.lags.original.forward(c.date, self.workspace, weeks)[None]
            fitted = self.fitted(c.date)[None, None, weeks]
            if c.original is not None and c.replaced is not None:
                source = c.original[:, None, weeks]
                if source.shape[0] > 1 and bool((source == source[:1]).all()):
                    source = source[:1]
                made = made * source
                fitted = fitted * c.replaced[:, None, None]
            f = made if f is None else f + made
            g = fitted if g is None else g + fitted
        assert f is not None and g is not None
        return f, g

    def block_bound(self, choices: Sequence[Choice]) -> tuple[Array, Array]:
        """f_b and g_b at their highest over models and stock ages, each (1, 1, size)."""
        f, g = np.zeros(self.size), np.zeros(self.size)
        for c in choices:
            made, fitted = self._highest(c.date), self.fitted(c.date)
            if c.original is not None and c.replaced is not None:
                made = made * c.original.max(axis=0)
                fitted = fitted * c.replaced.max()
            f = f + made
            g = g + fitted
        return f[None, None, :], g[None, None, :]

    def _highest(self, date: Array) -> Array:
        """A bound of sum over D of P(L = B - D | u) h(D) over stock ages, (size,); remembered."""
        key = ("highest", self.lags.original.key, *_key(date))
        envelope = self.lags.original.envelope
        return self.workspace.get(key, lambda: envelope.forward(date, self.workspace)[0])


def _key(date: Array) -> tuple[bytes, bytes]:
    at = np.flatnonzero(date)
    return at.tobytes(), date[at].tobytes()


def _one_fewer_possible(local: Counts, blocks: dict[Counts, tuple[Choice, ...]]) -> bool:
    """A delivery can only be possible if it is with one part fewer."""
    if sum(local) == 1:
        return True
    return all(
        tuple(c - (1 if j == i else 0) for j, c in enumerate(local)) in blocks
        for i, n in enumerate(local)
        if n
    )
