"""The band that says whether ranks are even: exact, and it sees what it should see."""

from __future__ import annotations

from itertools import product
from math import comb

import numpy as np
import pytest

from endbell.learning.calibration.ranks import (
    MOST_POINTS,
    held,
    judge_ranks,
    places,
    randomised_rank,
    simultaneous_band,
)


def walks_inside(n: int, z: np.ndarray, lower: np.ndarray, upper: np.ndarray) -> float:
    """The same chance by every way that n numbers can fall between the places: slow and plain."""
    shares = np.diff([0.0, *z, 1.0])
    total = 0.0
    for fell in product(range(n + 1), repeat=shares.size):
        if sum(fell) != n:
            continue
        below = np.cumsum(fell)[:-1]
        if (below < lower).any() or (below > upper).any():
            continue
        ways, left = 1, n
        for count in fell:
            ways *= comb(left, count)
            left -= count
        total += ways * float(np.prod(shares ** np.array(fell)))
    return total


@pytest.mark.parametrize("n", [3, 6])
def test_the_chance_of_keeping_a_band_is_that_of_all_ways_to_fall(n: int) -> None:
    z = np.array([0.2, 0.5, 0.6])
    lower = np.array([0, 1, 1])
    upper = np.array([n - 2, n - 1, n])
    assert held(n, z, lower, upper) == pytest.approx(walks_inside(n, z, lower, upper), rel=1e-12)


def test_a_band_that_leaves_everything_open_is_always_kept() -> None:
    z = places(50)
    assert held(50, z, np.zeros(49, int), np.full(49, 50)) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize("n", [20, 100, 1000, 10_000])
def test_the_band_is_kept_with_its_level_and_hardly_more(n: int) -> None:
    band = simultaneous_band(n)
    assert band.z.size == min(n, MOST_POINTS) - 1
    assert 0.99 <= band.held < 0.9925
    assert (band.lower < n * band.z).all()
    assert (band.upper > n * band.z).all()


def test_limits_are_the_binomial_quantiles_of_an_independent_library() -> None:
    stats = pytest.importorskip("scipy.stats")
    band = simultaneous_band(500)
    assert (band.lower == stats.binom.ppf(band.gamma / 2, 500, band.z)).all()
    assert (band.upper == stats.binom.ppf(1 - band.gamma / 2, 500, band.z)).all()


def test_even_ranks_leave_the_band_one_time_in_a_hundred() -> None:
    rng = np.random.default_rng(4)
    judged = [judge_ranks(rng.random(80)) for _ in range(1500)]
    outside = np.mean([not j.inside for j in judged])
    assert 0.003 < outside < 0.019  # 0.01 with a standard error of 0.0026
    p = np.array([j.p_value for j in judged])
    for level in (0.05, 0.2, 0.5):
        assert np.mean(p <= level) == pytest.approx(level, abs=0.045)


def test_inside_means_a_chance_above_one_in_a_hundred() -> None:
    rng = np.random.default_rng(5)
    for n in (30, 200):
        for _ in range(200):
            judged = judge_ranks(rng.random(n) ** rng.uniform(0.7, 1.4))
            assert judged.inside == (judged.p_value > 1 - judged.band.held)


@pytest.mark.parametrize(
    ("name", "spoilt"),
    [
        ("late", lambda u: u**1.35),
        ("too sure", lambda u: (u > 0.5) * (1 - (1 - u) ** 2 * 2) + (u <= 0.5) * 2 * u**2),
        ("not sure enough", lambda u: 0.25 + u / 2),
    ],
)
def test_ranks_that_are_not_even_leave_the_band(name: str, spoilt) -> None:  # type: ignore[no-untyped-def]
    u = np.random.default_rng(6).random(1000)
    judged = judge_ranks(spoilt(u))
    assert not judged.inside
    assert judged.p_value < 1e-4


def test_ties_are_spread_so_that_whole_weeks_have_even_ranks() -> None:
    rng = np.random.default_rng(7)
    ranks = []
    for _ in range(2000):
        p = rng.dirichlet(np.full(4, 0.3))
        ranks.append(randomised_rank(p, int(rng.choice(4, p=p)), rng.random()))
    assert judge_ranks(np.array(ranks)).inside


def test_a_truth_that_is_certain_says_nothing_about_the_rank() -> None:
    p = np.array([0.0, 1.0, 0.0])
    assert randomised_rank(p, 1, 0.3) == pytest.approx(0.3)
