"""Sums over the lag, forwards and backwards, against double loops on a small grid."""

from __future__ import annotations

import numpy as np
import pytest

from endbell.chronology import blocks
from endbell.chronology.bounds import window_bound
from endbell.chronology.convolve import (
    LagTable,
    later_at,
    later_backward,
    later_bound,
    window_at,
    window_backward,
)
from endbell.chronology.dates import Dates
from endbell.chronology.lags import EARLY, Lag
from endbell.chronology.workspace import Workspace

from ..amp import Array

SIZE = 90
AGES = np.array([-0.7, 0.0, 0.4])
LAG = LagTable(Lag(9.0, 0.5, 0.1, 30.0, 0.05).table(SIZE, AGES), ("original",))
SERVICE = LagTable(Lag(12.0, 0.6, 0.1, 40.0).table(SIZE, np.zeros(1)), ("service",))


def p_lag(table: LagTable, u: int, n: int) -> float:
    return float(table.table[u, n + EARLY]) if n >= -EARLY else 0.0


def slow_forward(table: LagTable, d: Array) -> Array:
    out = np.zeros((table.table.shape[0], SIZE))
    for u in range(table.table.shape[0]):
        for b in range(SIZE):
            for made in range(SIZE):
                out[u, b] += p_lag(table, u, b - made) * d[made]
    return out


def slow_later(d: Array) -> Array:
    fitted = slow_forward(SERVICE, d)[0]
    out = np.zeros(SIZE)
    for b in range(SIZE):
        when = range(b + 1, SIZE) if b < SIZE - 1 else [SIZE - 1]
        out[b] = sum(fitted[r] for r in when) / len(when)
    return out


def slow_window(t: Array, half: int) -> Array:
    out = np.zeros(SIZE)
    for b in range(SIZE):
        near = [t[d] for d in range(SIZE) if abs(d - b) <= half]
        out[b] = sum(near) / len(near)
    return out


def dates() -> dict[str, Array]:
    r = np.random.default_rng(7)
    sparse = np.zeros(SIZE)
    sparse[[3, 4, 5, 40, 70, 71]] = [0.15, 0.7, 0.15, 1.0, 0.2, 0.4]
    ends = np.zeros(SIZE)
    ends[[0, SIZE - 1]] = 1.0
    alternate = np.zeros(SIZE)
    alternate[::2] = 0.5
    return {
        "a code that repeats": sparse,
        "both ends": ends,
        "everything": r.random(SIZE),
        "every second week": alternate,
        "nothing": np.zeros(SIZE),
        "one week": np.eye(SIZE)[50],
    }


@pytest.mark.parametrize("name", dates())
def test_forwards_is_the_sum_over_made_weeks(name: str) -> None:
    d = dates()[name]
    assert np.abs(LAG.forward(Dates.of(d), Workspace()) - slow_forward(LAG, d)).max() < 1e-13


def test_a_dense_date_takes_the_other_way_and_says_the_same() -> None:
    """Beyond 60 runs of weeks the sum is done by another method."""
    size = 400
    table = LagTable(Lag(9.0, 0.5, 0.1, 30.0, 0.05).table(size, AGES), ("long",))
    d = np.zeros(size)
    d[::3] = np.random.default_rng(3).random(d[::3].size)
    slow = np.zeros((3, size))
    for u in range(3):
        for made in np.flatnonzero(d):
            for b in range(max(0, made - EARLY), size):
                slow[u, b] += table.table[u, b - made + EARLY] * d[made]
    assert np.abs(table.forward(Dates.of(d), Workspace()) - slow).max() < 1e-13


SPREAD_WEEKS = {
    "all": np.arange(1100),
    "early": np.arange(40, 200),
    "late": np.array([3, 700, 1098, 1099]),
    "the first": np.array([0]),
}


@pytest.mark.parametrize("chosen", SPREAD_WEEKS)
@pytest.mark.parametrize("step", [1, 3])
def test_dates_that_are_spread_out_are_summed_like_any_other(chosen: str, step: int) -> None:
    size, weeks = 1100, SPREAD_WEEKS[chosen]
    table = LagTable(Lag(9.0, 0.5, 0.1, 30.0, 0.05).table(size, AGES), ("spread",))
    service = LagTable(Lag(12.0, 0.6, 0.1, 40.0).table(size, np.zeros(1)), ("spread service",))
    dense = np.zeros(size)
    dense[::step] = np.random.default_rng(4).random(dense[::step].size) ** 8
    d = Dates.of(dense)
    assert d.spread_out

    def matrix(t: LagTable, u: int) -> Array:
        lag = np.arange(size)[:, None] - np.arange(size)[None, :]
        return np.where(lag >= -EARLY, t.table[u, np.maximum(lag + EARLY, 0)], 0.0)

    slow = np.stack([matrix(table, u) @ dense for u in range(AGES.size)])
    fitted = matrix(service, 0) @ dense
    later = np.array([fitted[b + 1 :].mean() if b < size - 1 else fitted[b] for b in range(size)])
    assert np.abs(table.forward(d, Workspace(), weeks) - slow[:, weeks]).max() < 1e-12
    assert np.abs(later_at(d, service, Workspace(), weeks) - later[weeks]).max() < 1e-12
    bound, later_top = table.bounds.made(d), later_bound(d, service)
    assert (bound >= blocks.highest(blocks.by_age(slow))).all()
    assert (later_top >= blocks.highest(later) * (1 - 1e-12)).all()
    assert bound.sum() < 2 * blocks.highest(slow).sum()
    assert later_top.sum() < 2 * blocks.highest(later).sum()


def test_forwards_with_what_was_kept_is_the_same() -> None:
    kept = Workspace()
    d = dates()["a code that repeats"]
    first = LAG.forward(Dates.of(d), kept)
    assert np.array_equal(first, LAG.forward(Dates.of(d), kept))
    shifted = np.roll(d, 6)
    assert np.abs(LAG.forward(Dates.of(shifted), kept) - slow_forward(LAG, shifted)).max() < 1e-13


WEEKS = {
    "all weeks": np.arange(SIZE),
    "a few": np.array([0, 5, 6, 30, 31, 60, 89]),
    "one": np.array([44]),
}


@pytest.mark.parametrize("name", dates())
@pytest.mark.parametrize("weeks", WEEKS)
def test_on_some_weeks_the_sums_are_those_of_all_weeks(name: str, weeks: str) -> None:
    d, chosen = Dates.of(dates()[name]), WEEKS[weeks]
    slow, later = slow_forward(LAG, d.dense)[:, chosen], slow_later(d.dense)[chosen]
    assert np.abs(LAG.forward(d, Workspace(), chosen) - slow).max() < 1e-13
    assert np.abs(later_at(d, SERVICE, Workspace(), chosen) - later).max() < 1e-13
    assert np.abs(window_at(d, 7, chosen) - slow_window(d.dense, 7)[chosen]).max() < 1e-13


@pytest.mark.parametrize("name", dates())
def test_a_bound_by_block_lies_above_every_week_of_it(name: str) -> None:
    d = Dates.of(dates()[name])
    by_age = blocks.by_age(slow_forward(LAG, d.dense))
    for bound, slow in (
        (LAG.bounds.made(d), by_age),
        (later_bound(d, SERVICE)[None], slow_later(d.dense)[None]),
        (window_bound(d, 7)[None], slow_window(d.dense, 7)[None]),
    ):
        assert (bound * (1 + 1e-6) + 1e-15 >= blocks.highest(slow)).all()
        # and not far above: within a block a lag changes by a few times at most
        assert bound.sum() <= 8 * blocks.highest(slow).sum() + 1e-12


@pytest.mark.parametrize("name", WEEKS)
def test_backwards_is_the_transpose_of_forwards(name: str) -> None:
    weeks = WEEKS[name]
    weight = np.random.default_rng(5).random((AGES.size, weeks.size))
    slow = np.zeros(SIZE)
    for made in range(SIZE):
        for u in range(AGES.size):
            for k, b in enumerate(weeks):
                slow[made] += weight[u, k] * p_lag(LAG, u, int(b) - made)
    back = LAG.backward(weight, weeks)
    assert np.abs(back - slow).max() < 1e-13
    d = np.random.default_rng(6).random(SIZE)
    assert (back * d).sum() == pytest.approx(
        (weight * LAG.forward(Dates.of(d), Workspace())[:, weeks]).sum(), rel=1e-12
    )


def test_backwards_of_no_weight_is_nothing() -> None:
    assert not LAG.backward(np.zeros((3, SIZE)), np.arange(SIZE)).any()


@pytest.mark.parametrize("name", dates())
def test_a_later_replacement_is_put_in_on_any_week_after_the_build(name: str) -> None:
    d = dates()[name]
    assert np.abs(later_at(Dates.of(d), SERVICE, Workspace(), None) - slow_later(d)).max() < 1e-13


def test_later_backwards_is_its_transpose() -> None:
    r = np.random.default_rng(8)
    d, weight = r.random(SIZE), r.random(SIZE)
    forward = later_at(Dates.of(d), SERVICE, Workspace(), None)
    assert (weight * forward).sum() == pytest.approx(
        (later_backward(weight, SERVICE) * d).sum(), rel=1e-12
    )
    for made in (0, 30, SIZE - 1):
        one = np.eye(SIZE)[made]
        slow = (weight * slow_later(one)).sum()
        assert later_backward(weight, SERVICE)[made] == pytest.approx(slow, abs=1e-13)


@pytest.mark.parametrize("half", [0, 3, 20, 200])
def test_a_period_replacement_is_dated_round_the_build(half: int) -> None:
    t = np.random.default_rng(9).random(SIZE)
    assert (
        np.abs(window_at(Dates.of(t), half, np.arange(SIZE)) - slow_window(t, half)).max() < 1e-13
    )


@pytest.mark.parametrize("half", [0, 3, 20, 200])
def test_the_period_window_backwards_is_its_transpose(half: int) -> None:
    r = np.random.default_rng(10)
    t, weight = r.random(SIZE), r.random(SIZE)
    back = window_backward(weight, half)
    assert (weight * window_at(Dates.of(t), half, np.arange(SIZE))).sum() == pytest.approx(
        (back * t).sum(), rel=1e-12
    )
    for d in (0, 45, SIZE - 1):
        slow = (weight * slow_window(np.eye(SIZE)[d], half)).sum()
        assert back[d] == pytest.approx(slow, abs=1e-13)
