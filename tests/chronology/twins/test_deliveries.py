"""Deliveries, against writing down every origin of every part and every way they can have come."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from itertools import combinations, product
from math import factorial, prod

import numpy as np
import pytest

from endbell.chronology import blocks
from endbell.chronology.backward import _Transpose
from endbell.chronology.convolve import LagTable
from endbell.chronology.dates import Dates
from endbell.chronology.deliveries import Deliveries
from endbell.chronology.lags import EARLY, Lag
from endbell.chronology.lone import Lone
from endbell.chronology.plan import DatedText, Kind, Lags, Plan
from endbell.chronology.sources import RivalSources, sources_for
from endbell.chronology.time import Grid
from endbell.chronology.workspace import Workspace
from endbell.reference.types import Supply, Window

from ..amp import Array

GRID = Grid.until(date(1931, 12, 1))
SIZE = GRID.size  # 101 weeks
AGES = np.array([-0.4, 0.3])
SPREAD = (0.75, 0.15, 0.06, 0.03, 0.01)
HALF, ALPHA = 30, 0.4
ASSUME = {
    "source.unlisted": 0.05,
    "source.replaced_unlisted": 0.5,
    "source.length_share.2": 0.3,
    "source.length_share.3": 0.6,
    "source.length_share.4": 0.1,
}
ORIGINAL = LagTable(Lag(9.0, 0.5, 0.1, 30.0, 0.05).table(SIZE, AGES), ("o",))
SERVICE = LagTable(Lag(12.0, 0.6, 0.1, 40.0).table(SIZE, np.zeros(1)), ("s",))
LAGS = Lags(ORIGINAL, SERVICE, HALF, ALPHA, SPREAD)


def supply(number: str, share: float, first: date | None, last: date | None) -> Supply:
    return Supply(number, "", "potentiometer", Window(first, last, share), 6.0)


ROWS = (
    supply("92", 0.7, None, date(1931, 2, 1)),
    supply("91", 0.9, date(1930, 9, 1), None),
    supply("921", 0.2, None, None),
)
ONE_RIVAL = RivalSources((sources_for(ROWS, ROWS, GRID, ASSUME),))
TWO_RIVALS = RivalSources(
    (sources_for(ROWS, ROWS, GRID, ASSUME), sources_for(ROWS[:1], ROWS, GRID, ASSUME))
)

Cells = tuple[tuple[float, ...], ...]


def digits(number: str) -> Cells:
    return tuple(tuple(1.0 if d == int(c) else 0.0 for d in range(10)) for c in number)


def weeks(*chosen: int, scale: float = 1.0) -> Dates:
    t = np.zeros(SIZE)
    for w in chosen:
        t[w - 1 : w + 2] += scale * np.array((0.15, 0.7, 0.15))
    return Dates.of(t)


LOST: Cells = ((1.0,) * 10, (1.0,) * 10)
WORN: Cells = (digits("92")[0], tuple(0.6 if d == 2 else 0.4 / 9 for d in range(10)))

TEXTS: dict[str, tuple[DatedText, ...]] = {
    "92 in week 40": (DatedText(digits("92"), weeks(40)),),
    "92 in week 41 or 90": (DatedText(digits("92"), weeks(41, 90)),),
    "92 in week 70": (DatedText(digits("92"), weeks(70)),),
    "91 in week 40": (DatedText(digits("91"), weeks(40)),),
    "source lost, week 40": (DatedText(LOST, weeks(40)),),
    "source worn, week 42": (DatedText(WORN, weeks(42, 30, scale=0.5)),),
    "no source, weeks 20 to 60": (
        DatedText(None, Dates.of(np.where(abs(np.arange(SIZE) - 40) <= 20, 0.3, 0.0))),
    ),
    "split two ways": (
        DatedText(digits("92"), weeks(40, scale=0.5)),
        DatedText(digits("921"), weeks(44, scale=0.5)),
    ),
}


def other_marks(seed: int, rivals: int) -> tuple[Array, Array, Array]:
    """Prior times what else is seen on a part, under each origin."""
    r = np.random.default_rng(seed)
    if seed == 0:
        return np.full((1, 1), 0.9), np.full((1, 1), 0.085), np.full((1, 1), 0.015)
    return r.random((rivals, SIZE)), r.random((1, 1)), r.random((rivals, 1))


Term = tuple[str, list[list[int]], list[list[int]], Array]


@dataclass(frozen=True)
class Labelled:
    """One part on its own, and its kind in the plan."""

    part: str
    kind: int
    texts: tuple[DatedText, ...]
    original: Array
    later: Array
    period: Array


def partitions(items: Sequence[int]) -> Iterator[list[list[int]]]:
    """Every way to put labelled things into groups."""
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for size in range(len(rest) + 1):
        for chosen in combinations(rest, size):
            for others in partitions([i for i in rest if i not in chosen]):
                yield [[first, *chosen], *others]


class Slow:
    """docs/model.md, section 6, for one rival and one stock age, part by part."""

    def __init__(
        self, parts: Sequence[Labelled], rival: int, age: int, sources: RivalSources
    ) -> None:
        self.parts = parts
        self.sources = sources.rows[rival]
        self.rival = rival
        self.lag = self.matrix(ORIGINAL, age)
        self.service = self.matrix(SERVICE, 0)

    @staticmethod
    def matrix(table: LagTable, age: int) -> Array:
        """P(L = B - D), build by made week."""
        out = np.zeros((SIZE, SIZE))
        for b in range(SIZE):
            for d in range(SIZE):
                if b - d >= -EARLY:
                    out[b, d] = table.table[age, b - d + EARLY]
        return out

    def shipped(self, made: Array) -> Array:
        h = np.zeros(SIZE)
        for d in range(SIZE):
            for e, p in enumerate(SPREAD):
                if d - e >= 0:
                    h[d] += p * made[d - e]
        return h

    def delivery(self, which: Sequence[int], *, later: bool) -> Array:
        out = np.zeros(SIZE)
        for texts in product(*(self.parts[i].texts for i in which)):
            cells = [t.source for t in texts if t.source is not None]
            if len({len(c) for c in cells}) > 1:
                continue
            date = prod((self.shipped(t.made.dense) for t in texts), start=np.ones(SIZE))
            source = self.sources.weigh(cells) if cells else (np.ones(SIZE), 1.0)
            if later:
                fitted = self.service @ date
                mean = [fitted[b + 1 :].mean() if b < SIZE - 1 else fitted[b] for b in range(SIZE)]
                out += np.array(mean) * source[1]
            else:
                out += (self.lag @ date) * source[0]
        return out

    def by_itself(self, i: int) -> Array:
        out = np.zeros(SIZE)
        for t in self.parts[i].texts:
            share = 1.0 if t.source is None else self.sources.weigh([t.source])[1]
            near = [t.made.dense[max(0, b - HALF) : b + HALF + 1].mean() for b in range(SIZE)]
            out += share * np.array(near)
        return out

    def row(self, a: Array) -> Array:
        return a[self.rival if a.shape[0] > 1 else 0]

    def terms(self) -> Iterator[Term]:
        """(origins, deliveries of the factory, deliveries of repairs, weight by build week)."""
        n = len(self.parts)
        for origins in product("OLP", repeat=n):
            groups = {o: [i for i in range(n) if origins[i] == o] for o in "OLP"}
            marks = np.ones(SIZE)
            for i, o in enumerate(origins):
                p = self.parts[i]
                marks = marks * self.row({"O": p.original, "L": p.later, "P": p.period}[o])
            for i in groups["P"]:
                marks = marks * self.by_itself(i)
            for first, second in product(
                list(partitions(groups["O"])), list(partitions(groups["L"]))
            ):
                term = marks * ewens(first) * ewens(second)
                for block in first:
                    term = term * self.delivery(block, later=False)
                for block in second:
                    term = term * self.delivery(block, later=True)
                yield "".join(origins), first, second, term


@cache
def written_out(name: str, rivals: int, m: int, u: int) -> tuple[Term, ...]:
    """All terms of a case for one rival and one stock age."""
    sources = ONE_RIVAL if rivals == 1 else TWO_RIVALS
    return tuple(Slow(plan_of(name, sources)[1], m, u, sources).terms())


def ewens(blocks: list[list[int]]) -> float:
    n = sum(len(b) for b in blocks)
    rising = prod(ALPHA + i for i in range(n))
    return ALPHA ** len(blocks) * prod(factorial(len(b) - 1) for b in blocks) / rising


CASES: dict[str, list[tuple[str, int, int]]] = {
    # (text, how many parts bear it, which other marks)
    "one": [("92 in week 40", 1, 0)],
    "two alike": [("92 in week 40", 2, 0)],
    "three alike with other marks": [("92 in week 41 or 90", 3, 5)],
    "two suppliers": [("92 in week 40", 1, 0), ("91 in week 40", 1, 0)],
    "far apart": [("92 in week 40", 2, 0), ("92 in week 70", 1, 1)],
    "lost among clear ones": [("92 in week 40", 2, 0), ("source lost, week 40", 1, 0)],
    "worn of its own week": [
        ("92 in week 41 or 90", 1, 2),
        ("source worn, week 42", 1, 3),
        ("91 in week 40", 1, 0),
    ],
    "one without a source": [("92 in week 40", 1, 0), ("no source, weeks 20 to 60", 2, 4)],
    "shapes that differ": [("split two ways", 2, 0), ("92 in week 40", 1, 1)],
    "four of four kinds": [
        ("92 in week 40", 1, 0),
        ("92 in week 41 or 90", 1, 1),
        ("source lost, week 40", 1, 2),
        ("no source, weeks 20 to 60", 1, 0),
    ],
    "four alike": [("92 in week 40", 4, 0)],
}


def plan_of(name: str, sources: RivalSources) -> tuple[Plan, list[Labelled]]:
    kinds: list[Kind] = []
    parts: list[Labelled] = []
    for text, count, seed in CASES[name]:
        o, l, p = other_marks(seed, len(sources.rows))
        ids = tuple(f"pot-{len(parts) + i + 1}" for i in range(count))
        parts.extend(Labelled(i, len(kinds), TEXTS[text], o, l, p) for i in ids)
        kinds.append(Kind(count, TEXTS[text], o, l, p))
    return Plan(kinds, LAGS, sources, Workspace()), parts


def compare(
    name: str,
    sources: RivalSources,
    fast: Callable[[Deliveries], Array],
    counts: Callable[[str, list[list[int]], list[list[int]]], bool],
) -> None:
    plan, _ = plan_of(name, sources)
    found = fast(Deliveries.at(plan, np.arange(SIZE)))
    shape = (len(sources.rows), AGES.size, SIZE)
    found = np.broadcast_to(found, shape)
    for m, u in product(range(shape[0]), range(shape[1])):
        slow = sum(
            (
                term
                for o, f, s, term in written_out(name, len(sources.rows), m, u)
                if counts(o, f, s)
            ),
            np.zeros(SIZE),
        )
        scale = max(slow.max(), 1e-300)
        assert np.abs(found[m, u] - slow).max() < 1e-11 * scale + 1e-300


@pytest.mark.parametrize("name", CASES)
def test_the_likelihood_is_the_sum_over_every_origin_and_partition(name: str) -> None:
    compare(name, ONE_RIVAL, lambda g: g.total(), lambda *_: True)


@pytest.mark.parametrize("name", ["one", "worn of its own week", "shapes that differ", "far apart"])
def test_rivals_with_suppliers_of_their_own_are_each_summed(name: str) -> None:
    compare(name, TWO_RIVALS, lambda g: g.total(), lambda *_: True)


@pytest.mark.parametrize("name", CASES)
def test_that_some_parts_are_original_is_the_sum_over_where_they_are(name: str) -> None:
    _, parts = plan_of(name, ONE_RIVAL)
    n = len(parts)
    for chosen in {(0,), (n - 1,), tuple(range(n)), tuple(range(0, n, 2))}:
        named = [parts[i].kind for i in chosen]
        compare(
            name,
            ONE_RIVAL,
            lambda g, k=named: g.all_original(k),
            lambda o, _f, _s, c=chosen: all(o[i] == "O" for i in c),
        )


@pytest.mark.parametrize("name", CASES)
def test_each_origin_of_a_part_is_the_sum_over_where_it_is(name: str) -> None:
    _, parts = plan_of(name, ONE_RIVAL)
    for i in {0, len(parts) - 1}:
        for k, origin in enumerate("OLP"):
            compare(
                name,
                ONE_RIVAL,
                lambda g, i=i, k=k: g.origins(parts[i].kind)[k],
                lambda o, _f, _s, i=i, x=origin: o[i] == x,
            )
        compare(
            name,
            ONE_RIVAL,
            lambda g, i=i: g.original(parts[i].kind),
            lambda o, _f, _s, i=i: o[i] == "O",
        )


@pytest.mark.parametrize("name", [c for c in CASES if c != "one"])
def test_that_parts_came_together_is_the_sum_over_where_they_did(name: str) -> None:
    plan, parts = plan_of(name, ONE_RIVAL)
    n = len(parts)
    group = Deliveries.at(plan, np.arange(SIZE))
    for chosen in {(0, 1), (0, n - 1), tuple(range(n))}:
        named = [parts[i].kind for i in chosen]

        def one(
            _o: str, first: list[list[int]], second: list[list[int]], c: tuple[int, ...] = chosen
        ) -> bool:
            return any(set(c) <= set(block) for block in (*first, *second))

        if group.together(named) is None:
            assert not any(one(*t[:3]) and t[3].any() for t in written_out(name, 1, 0, 0))
            continue
        compare(name, ONE_RIVAL, lambda g, k=named: np.asarray(g.together(k)), one)


@pytest.mark.parametrize("name", ["four of four kinds", "lost among clear ones", "far apart"])
def test_on_some_weeks_the_sums_are_the_same(name: str) -> None:
    plan, parts = plan_of(name, ONE_RIVAL)
    chosen = np.array([3, 30, 44, 45, 60, 99])
    whole = Deliveries.at(plan, np.arange(SIZE))
    some = Deliveries.at(plan, chosen)
    assert np.allclose(some.total(), whole.total()[:, :, chosen], rtol=1e-13, atol=0)
    again = whole.on(chosen)
    for a, b in zip(again.origins(parts[0].kind), whole.origins(parts[0].kind), strict=True):
        assert np.allclose(a, b[:, :, chosen], rtol=1e-13, atol=0)


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("sources", [ONE_RIVAL, TWO_RIVALS], ids=["one rival", "two rivals"])
def test_the_bound_is_never_below_the_likelihood(name: str, sources: RivalSources) -> None:
    plan, _ = plan_of(name, sources)
    total = Deliveries.at(plan, np.arange(SIZE)).total().max(axis=0)
    by_block = blocks.highest(blocks.by_age(total))
    assert (plan.bound * (1 + 1e-12) >= by_block).all()


def test_a_part_alone_says_what_a_group_of_one_says() -> None:
    for sources in (ONE_RIVAL, TWO_RIVALS):
        plan, _ = plan_of("one", sources)
        weeks = np.array([3, 30, 44, 45, 60, 99])
        lone, group = Lone.at(plan, weeks), Deliveries.at(plan, weeks)
        pairs = [
            (lone.total(), group.total()),
            *zip(lone.origins(0), group.origins(0), strict=True),
        ]
        pairs += [(lone.all_original(k), group.all_original(k)) for k in ([], [0])]
        pairs.append((lone.on(weeks[:2] * 0).total(), group.on(weeks[:2] * 0).total()))
        for a, b in pairs:
            assert np.allclose(a, b, rtol=1e-12, atol=1e-18)


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("last", [False, True])
def test_what_the_rest_says_of_a_parts_date_is_the_sum_turned_round(name: str, last: bool) -> None:
    """The likelihood is linear in what one part says: its date weights give any likelihood back."""
    plan, parts = plan_of(name, ONE_RIVAL)
    part = parts[-1 if last else 0]
    group = Deliveries.at(plan, np.arange(SIZE))
    q = np.random.default_rng(11).random((1, AGES.size, SIZE))
    weights = {
        w.source: w.weeks for w in _Transpose(group, part.kind, q, np.arange(SIZE)).weights()
    }
    assert set(weights) == {t.source for t in part.texts}
    regained = sum(float((weights[t.source] * t.made.dense).sum()) for t in part.texts)
    assert regained == pytest.approx(float((q * group.total()).sum()), rel=1e-10)
    # and with another date on that part, what the slow sum says then
    other = tuple(DatedText(t.source, weeks(38, 60)) for t in part.texts)
    changed = [
        Labelled(p.part, p.kind, other, p.original, p.later, p.period) if p.part == part.part else p
        for p in parts
    ]
    told = sum(float((weights[t.source] * t.made.dense).sum()) for t in other)
    slow = sum(
        float((q[0, u] * term).sum())
        for u in range(AGES.size)
        for *_, term in Slow(changed, 0, u, ONE_RIVAL).terms()
    )
    assert told == pytest.approx(slow, rel=1e-10)
