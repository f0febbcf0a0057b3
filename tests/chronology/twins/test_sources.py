"""Sums over source numbers, against trying every number there is."""

from __future__ import annotations

from datetime import date
from itertools import product

import numpy as np
import pytest

from endbell.chronology import blocks
from endbell.chronology.sources import RivalSources, sources_for, supplies_of
from endbell.chronology.time import Grid
from endbell.reference import Reference
from endbell.reference.types import Supply, Window

from ..amp import Array

GRID = Grid.until(date(1936, 1, 1))
ASSUME = {
    "source.unlisted": 0.05,
    "source.replaced_unlisted": 0.5,
    "source.length_share.2": 0.005,
    "source.length_share.3": 0.97,
    "source.length_share.4": 0.03,
}
LENGTH = {n: ASSUME[f"source.length_share.{n}"] / 1.005 for n in (2, 3, 4)}
Cells = tuple[tuple[float, ...], ...]


def supply(
    number: str, share: float, first: date | None, last: date | None, *models: str
) -> Supply:
    return Supply(number, "", "potentiometer", Window(first, last, share), 6.0, tuple(models))


ROWS = {
    "two suppliers in turn": (
        supply("992", 1.0, None, date(1932, 6, 1)),
        supply("991", 0.6, date(1932, 1, 1), None),
    ),
    "one number twice, and a long one": (
        supply("992", 0.5, None, date(1932, 6, 1)),
        supply("992", 0.9, date(1931, 1, 1), None),
        supply("9921", 0.3, None, None),
        supply("99", 0.1, None, None),
    ),
    "nobody": (),
}


def digits(number: str) -> Cells:
    """A number clearly read."""
    return tuple(tuple(1.0 if d == int(c) else 0.0 for d in range(10)) for c in number)


def worn(seed: int, length: int) -> Cells:
    r = np.random.default_rng(seed)
    return tuple(tuple(r.random(10).tolist()) for _ in range(length))


LOST: Cells = ((1.0,) * 10,) * 3

DELIVERIES: dict[str, list[Cells]] = {
    "one clear code": [digits("992")],
    "a number not listed": [digits("777")],
    "three parts alike": [digits("992")] * 3,
    "two that can't be one": [digits("992"), digits("991")],
    "a lost source": [LOST],
    "a clear one and a lost one": [digits("991"), LOST],
    "worn": [worn(1, 3)],
    "worn and clear": [worn(2, 3), digits("992")],
    "worn of four": [worn(3, 4)],
    "two digits": [digits("99")],
    "worn of two": [worn(4, 2), worn(5, 2)],
}


def slow(
    rows: tuple[Supply, ...], everyone: tuple[Supply, ...], cells: list[Cells]
) -> tuple[Array, float]:
    """Every number of that length, one after another, docs/model.md, section 5."""
    length = len(cells[0])
    amount: dict[str, Array] = {}
    for s in rows:
        window = s.window.weight * GRID.soft_window(s.window, s.softness_weeks)
        amount[s.number] = amount.get(s.number, np.zeros(GRID.size)) + window
    whole = np.maximum(sum(amount.values(), np.zeros(GRID.size)), 1.0)
    listed = {n: (1 - ASSUME["source.unlisted"]) * a / whole for n, a in amount.items()}
    rest = 1 - sum(listed.values(), np.zeros(GRID.size))
    share: dict[str, float] = {}
    for s in everyone:
        share[s.number] = share.get(s.number, 0.0) + s.window.weight
    leak = ASSUME["source.replaced_unlisted"]
    bought = {n: (1 - leak) * v / sum(share.values()) for n, v in share.items()}
    rest_bought = leak if bought else 1.0
    original, replaced = np.zeros(GRID.size), 0.0
    for number in ("".join(c) for c in product("0123456789", repeat=length)):
        fit = 1.0
        for cell in cells:
            for vector, ch in zip(cell, number, strict=True):
                fit *= vector[int(ch)]
        if fit == 0.0:
            continue
        others = 10**length - sum(len(n) == length for n in listed)
        original += fit * (listed[number] if number in listed else rest * LENGTH[length] / others)
        others = 10**length - sum(len(n) == length for n in bought)
        replaced += fit * (
            bought[number] if number in bought else rest_bought * LENGTH[length] / others
        )
    return original, replaced


@pytest.mark.parametrize("rows", ROWS)
@pytest.mark.parametrize("name", DELIVERIES)
def test_a_sum_over_sources_is_the_sum_over_every_number(rows: str, name: str) -> None:
    made = sources_for(ROWS[rows], ROWS[rows], GRID, ASSUME)
    original, replaced = made.weigh(DELIVERIES[name])
    slow_original, slow_replaced = slow(ROWS[rows], ROWS[rows], DELIVERIES[name])
    assert np.abs(np.broadcast_to(original, (GRID.size,)) - slow_original).max() < 1e-13
    assert replaced == pytest.approx(slow_replaced, abs=1e-13)


def test_a_repairer_buys_from_every_supplier_of_the_class_whatever_the_model() -> None:
    open_to_one = ROWS["two suppliers in turn"][:1]
    made = sources_for(open_to_one, ROWS["two suppliers in turn"], GRID, ASSUME)
    for cells in DELIVERIES.values():
        original, replaced = made.weigh(cells)
        slow_original, slow_replaced = slow(open_to_one, ROWS["two suppliers in turn"], cells)
        assert np.abs(np.broadcast_to(original, (GRID.size,)) - slow_original).max() < 1e-13
        assert replaced == pytest.approx(slow_replaced, abs=1e-13)


@pytest.mark.parametrize("rows", ROWS)
def test_all_source_numbers_of_all_lengths_are_one(rows: str) -> None:
    made = sources_for(ROWS[rows], ROWS[rows], GRID, ASSUME)
    total, bought = np.zeros(GRID.size), 0.0
    for length in (2, 3, 4):
        original, replaced = made.weigh([((1.0,) * 10,) * length])
        total += original
        bought += replaced
    # a listed number takes its share from those that are not: a length that has none keeps its own
    assert total == pytest.approx(np.ones(GRID.size), abs=1e-12)
    assert bought == pytest.approx(1.0, abs=1e-12)


def test_suppliers_that_sell_more_than_there_is_share_it() -> None:
    rows = (supply("992", 0.9, None, None), supply("991", 0.6, None, None))
    original, _ = sources_for(rows, rows, GRID, ASSUME).weigh([digits("992")])
    assert original[100] == pytest.approx(0.95 * 0.9 / 1.5, abs=1e-12)
    half = (supply("992", 0.4, None, None),)
    original, _ = sources_for(half, half, GRID, ASSUME).weigh([digits("992")])
    assert original[100] == pytest.approx(0.95 * 0.4, abs=1e-12)


def test_each_rival_buys_from_its_own_suppliers(brackwater: Reference) -> None:
    rows = supplies_of("power-transformer", "lantern-20", brackwater)
    others = supplies_of("power-transformer", "wick-6", brackwater)
    assert len(rows) == len(others) + 1  # the re-issue's own supplier
    a = sources_for(rows, rows, GRID, ASSUME)
    b = sources_for(others, rows, GRID, ASSUME)
    both = RivalSources((a, b))
    for row in {r.number for r in rows}:
        found = both.weigh([digits(row)])
        for m, alone in enumerate((a, b)):
            original, replaced = alone.weigh([digits(row)])
            assert np.array_equal(np.broadcast_to(found.original, (2, GRID.size))[m], original)
            assert found.replaced == replaced
        assert (found.bound >= blocks.highest(found.original.max(axis=0))).all()
    # the re-issue's supplier came after this grid: one row does for both
    assert both.weigh([digits("993")]).original.shape == (1, GRID.size)
