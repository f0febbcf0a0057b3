"""Sums of logarithms and products of many small numbers."""

from __future__ import annotations

from math import log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from endbell.chronology.convolve import fast_length
from endbell.chronology.logs import log_product, log_sum, log_total, scaled_product
from endbell.chronology.marriage import Marriage
from endbell.chronology.workspace import Workspace

from ..amp import Array

SHAPES = ((1, 1, 5), (3, 1, 5), (1, 2, 5), (3, 2, 5), (1, 1, 1), (3, 1, 1))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**9), st.integers(0, 12))
def test_a_product_of_many_small_numbers_does_not_vanish(seed: int, count: int) -> None:
    r = np.random.default_rng(seed)
    factors = [
        10.0 ** -r.integers(0, 200) * r.random(SHAPES[r.integers(len(SHAPES))]) + 1e-300
        for _ in range(count)
    ]
    slow = np.zeros((1, 1, 1))
    for f in factors:
        slow = slow + np.log(f)
    assert np.allclose(log_product(factors), slow, rtol=1e-12, atol=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**9), st.integers(1, 12), st.integers(0, 2), st.booleans())
def test_a_scaled_product_is_the_product(seed: int, count: int, logs: int, tiny: bool) -> None:
    """Whether it is taken plainly or, where it would vanish, in logs."""
    r = np.random.default_rng(seed)

    def one() -> Array:
        a = r.random(SHAPES[r.integers(len(SHAPES))]) + 1e-9
        if tiny and a.shape[2] > 1:  # each at its highest in another week: the product is small
            a = a * 10.0 ** -r.integers(0, 90, 5)
        return a

    factors, others = [one() for _ in range(count)], [np.log(one()) for _ in range(logs)]
    slow = np.zeros((1, 1, 1))
    for f in factors:
        slow = slow + np.log(f)
    for a in others:
        slow = slow + a
    product, scale = scaled_product(factors, others)
    assert product.max() <= 1.0 + 1e-9
    high = slow > slow.max() - 300
    with np.errstate(divide="ignore"):
        assert np.allclose((np.log(product) + scale)[high], slow[high], rtol=1e-12, atol=1e-8)
    assert log_total(product, scale) == pytest.approx(log_sum(slow), abs=1e-8)


def test_a_product_with_something_impossible_is_nothing() -> None:
    product, scale = scaled_product([np.zeros((1, 1, 4)), np.ones((2, 1, 1))], [])
    assert product.shape == (2, 1, 4) and not product.any()
    assert log_total(product, scale) == -np.inf


def test_what_is_impossible_in_one_factor_is_impossible() -> None:
    a, b = np.array([[[0.0, 1.0]]]), np.array([[[2.0, 3.0]]])
    found = log_product([b, a, b])
    assert found[0, 0, 0] == -np.inf and found[0, 0, 1] == pytest.approx(log(9.0))


def test_nothing_seen_is_a_product_of_one() -> None:
    assert log_product([]).tolist() == [[[0.0]]]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-5000, 50), min_size=1, max_size=20))
def test_a_log_of_a_sum_is_the_sum(logs: list[float]) -> None:
    top = max(logs)
    slow = top + log(sum(np.exp(x - top) for x in logs))
    assert log_sum(np.array(logs)) == pytest.approx(slow, abs=1e-12)


def test_a_sum_of_nothing_is_nothing() -> None:
    assert log_sum(np.full(3, -np.inf)) == -np.inf


def test_a_cabinet_is_this_amps_or_another_amps() -> None:
    own = np.log(np.array([[[0.2, 0.001]]]))
    m = Marriage(own, np.log(np.array([0.05])), 0.1)
    assert np.exp(m.log_mix)[0, 0] == pytest.approx(
        [0.9 * 0.2 + 0.1 * 0.05, 0.9 * 0.001 + 0.1 * 0.05]
    )
    assert m.belongs[0, 0] == pytest.approx([0.18 / 0.185, 0.0009 / 0.0059])
    cut = m.on(np.array([1]))
    assert cut.belongs[0, 0] == pytest.approx([0.0009 / 0.0059])


@pytest.mark.parametrize("n", [1, 2, 7, 11, 13, 97, 1000, 4999, 10061])
def test_lengths_for_the_transform_are_the_least_that_fit(n: int) -> None:
    def smooth(k: int) -> bool:
        for p in (2, 3, 5):
            while k % p == 0:
                k //= p
        return k == 1

    assert fast_length(n) == next(k for k in range(n, 2 * n + 1) if smooth(k))


def test_a_workspace_keeps_what_was_last_used() -> None:
    kept = Workspace(limit_bytes=3000)
    calls: list[str] = []

    def make(name: str) -> np.ndarray:
        calls.append(name)
        return np.zeros(100)  # 800 bytes and a little

    for name in "abcab":
        kept.get(name, lambda name=name: make(name))
    assert calls == list("abc")
    kept.get("d", lambda: make("d"))  # no room: the one least lately used, c, leaves
    kept.get("a", lambda: make("a"))
    assert calls == list("abcd")
    kept.get("c", lambda: make("c"))
    assert calls == list("abcdc")
