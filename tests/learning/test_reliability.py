"""Sets and probabilities judged by what was so, checked against an independent library."""

from __future__ import annotations

import numpy as np
import pytest

from endbell.learning.calibration.coverage import coverage
from endbell.learning.calibration.reliability import bin_of, doubtful, excess, reliability


@pytest.fixture(scope="module")
def honest() -> tuple[np.ndarray, np.ndarray]:
    """20,000 statements that are exactly right."""
    rng = np.random.default_rng(1)
    stated = rng.beta(0.4, 0.6, 20_000)
    return stated, rng.random(stated.size) < stated


def test_the_brier_score_is_that_of_scikit_learn(honest: tuple[np.ndarray, np.ndarray]) -> None:
    metrics = pytest.importorskip("sklearn.metrics")
    r = reliability(*honest)
    assert r.brier == pytest.approx(metrics.brier_score_loss(honest[1], honest[0]), rel=1e-12)
    plain = metrics.brier_score_loss(honest[1], np.full(20_000, honest[1].mean()))
    assert r.skill == pytest.approx(1 - r.brier / plain, rel=1e-9)


def test_the_curve_is_that_of_scikit_learn(honest: tuple[np.ndarray, np.ndarray]) -> None:
    calibration = pytest.importorskip("sklearn.calibration")
    true, stated = calibration.calibration_curve(
        honest[1], honest[0], n_bins=20, strategy="uniform"
    )
    curve = reliability(*honest).curve
    assert [b.true for b in curve] == pytest.approx(true.tolist())
    assert [b.stated for b in curve] == pytest.approx(stated.tolist())


def test_the_error_of_honest_statements_is_that_of_chance(
    honest: tuple[np.ndarray, np.ndarray],
) -> None:
    rng = np.random.default_rng(2)
    stated = honest[0][:2000]
    found = [reliability(stated, rng.random(2000) < stated).ece for _ in range(200)]
    assert np.mean(found) == pytest.approx(reliability(*honest).ece_if_right * 10**0.5, rel=0.1)


def test_statements_that_are_too_bold_are_told_by_their_error() -> None:
    rng = np.random.default_rng(3)
    p = rng.uniform(0.05, 0.95, 5000)
    true = rng.random(5000) < p
    bold = p**2 / (p**2 + (1 - p) ** 2)
    assert reliability(p, true).ece < 0.03
    assert reliability(bold, true).ece > 0.08


def test_the_skill_of_honest_statements_is_what_they_tell(
    honest: tuple[np.ndarray, np.ndarray],
) -> None:
    r = reliability(*honest)
    assert r.skill == pytest.approx(r.skill_if_right, abs=0.01)
    vague = np.full(20_000, honest[1].mean())
    assert reliability(vague, honest[1]).skill_if_right == pytest.approx(0.0, abs=1e-9)


def test_doubtful_is_from_a_twentieth_to_nineteen() -> None:
    stated = np.array([0.0, 0.0499, 0.05, 0.15, 0.9499, 0.95, 1.0])
    assert doubtful(stated).tolist() == [False, False, True, True, True, False, False]
    assert bin_of(stated).tolist() == [0, 0, 1, 3, 18, 19, 19]


def test_statements_about_one_amp_do_not_count_as_independent() -> None:
    """Ten parts of one amp that share their fate say no more than one."""
    rng = np.random.default_rng(4)
    alone, together = [], []
    for _ in range(300):
        fate = rng.random(50) < 0.5
        owner = np.repeat(np.arange(50), 10)
        true = np.repeat(fate, 10)
        stated = np.full(500, 0.5)
        alone.append(excess(stated, true))
        together.append(excess(stated, true, owner))
    assert np.std(alone) > 2.5
    assert np.std(together) == pytest.approx(1.0, abs=0.15)


def test_nothing_stated_is_nothing_judged() -> None:
    empty = reliability(np.zeros(0), np.zeros(0, bool))
    assert empty.n == 0
    assert empty.curve == ()
    assert np.isnan(empty.ece)


def test_sets_that_hold_what_they_say_are_within_three_standard_errors() -> None:
    rng = np.random.default_rng(5)
    mass = rng.uniform(0.95, 0.99, 4000)
    found = coverage(rng.random(4000) < mass, mass)
    assert abs(found.z) < 3
    assert found.se == pytest.approx((0.97 * 0.03 / 4000) ** 0.5, rel=0.03)


def test_sets_that_hold_less_than_they_say_are_told() -> None:
    rng = np.random.default_rng(6)
    assert coverage(rng.random(4000) < 0.93, np.full(4000, 0.95)).z < -3


def test_sets_that_are_certain_differ_by_nothing() -> None:
    found = coverage(np.ones(10, bool), np.ones(10))
    assert found.z == 0.0
    assert found.difference == 0.0
