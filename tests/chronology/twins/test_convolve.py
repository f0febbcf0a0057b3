"""Sums over the lag, forwards and backwards, against double loops on a small grid."""

from __future__ import annotations

import numpy as np
import pytest

from endbell.chronology.convolve import (
    LagTable,
    later_backward,
    later_forward,
    mean_after,
    window_backward,
    window_mean,
)
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
    assert np.abs(LAG.forward(d, Workspace()) - slow_forward(LAG, d)).max() < 1e-13


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
    assert np.abs(table.forward(d, Workspace()) - slow).max() < 1e-13


def test_forwards_with_what_was_kept_is_the_same() -> None:
    kept = Workspace()
    d = dates()["a code that repeats"]
    first = LAG.forward(d, kept)
    assert np.array_equal(first, LAG.forward(d, kept))
    shifted = np.roll(d, 6)
    assert np.abs(LAG.forward(shifted, kept) - slow_forward(LAG, shifted)).max() < 1e-13


WEEKS = {
    "all weeks": np.arange(SIZE),
    "a few": np.array([0, 5, 6, 30, 31, 60, 89]),
    "one": np.array([44]),
}


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
        (weight * LAG.forward(d, Workspace())[:, weeks]).sum(), rel=1e-12
    )


def test_backwards_of_no_weight_is_nothing() -> None:
    assert not LAG.backward(np.zeros((3, SIZE)), np.arange(SIZE)).any()


@pytest.mark.parametrize("name", dates())
def test_a_later_replacement_is_put_in_on_any_week_after_the_build(name: str) -> None:
    d = dates()[name]
    assert np.abs(later_forward(d, SERVICE, Workspace()) - slow_later(d)).max() < 1e-13


def test_later_backwards_is_the_transpose_of_later_forwards() -> None:
    r = np.random.default_rng(8)
    d, weight = r.random(SIZE), r.random(SIZE)
    forward = later_forward(d, SERVICE, Workspace())
    assert (weight * forward).sum() == pytest.approx(
        (later_backward(weight, SERVICE) * d).sum(), rel=1e-12
    )
    for made in (0, 30, SIZE - 1):
        one = np.eye(SIZE)[made]
        slow = (weight * slow_later(one)).sum()
        assert later_backward(weight, SERVICE)[made] == pytest.approx(slow, abs=1e-13)


def test_the_mean_after_a_week_is_over_the_weeks_that_come() -> None:
    assert mean_after(np.array([9.0, 2.0, 4.0, 6.0])).tolist() == [4.0, 5.0, 6.0, 6.0]


@pytest.mark.parametrize("half", [0, 3, 20, 200])
def test_a_period_replacement_is_dated_round_the_build(half: int) -> None:
    t = np.random.default_rng(9).random(SIZE)
    assert np.abs(window_mean(t, half) - slow_window(t, half)).max() < 1e-13


@pytest.mark.parametrize("half", [0, 3, 20, 200])
def test_the_period_window_backwards_is_its_transpose(half: int) -> None:
    r = np.random.default_rng(10)
    t, weight = r.random(SIZE), r.random(SIZE)
    back = window_backward(weight, half)
    assert (weight * window_mean(t, half)).sum() == pytest.approx((back * t).sum(), rel=1e-12)
    for d in (0, 45, SIZE - 1):
        slow = (weight * slow_window(np.eye(SIZE)[d], half)).sum()
        assert back[d] == pytest.approx(slow, abs=1e-13)
