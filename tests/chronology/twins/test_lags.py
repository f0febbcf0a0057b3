"""Lags week by week, against the normal distribution function written out."""

from __future__ import annotations

from datetime import date
from math import erf, exp, inf, log, sqrt

import numpy as np
import pytest

from endbell.chronology.lags import EARLY, NODES, Lag, log_normal, stock_age_nodes
from endbell.chronology.setting import Setting
from endbell.chronology.workspace import Workspace
from endbell.reference import Reference

from ..amp import amp

LAGS = [
    Lag(14.0, 0.5, 0.02, 104.0, 0.005),
    Lag(8.0, 0.7, 0.05, 52.0, 0.0),
    Lag(1.3, 0.4, 0.3, 10.0, 0.1),
    Lag(200.0, 1.2, 0.0, 104.0, 0.0),
]


def phi(x: float) -> float:
    return 0.0 if x == -inf else 0.5 * (1 + erf(x / sqrt(2)))


def slow_lag(lag: Lag, n: int, u: float) -> float:
    """P(L = n | u), docs/model.md, section 6."""
    if n < -EARLY:
        return 0.0
    if n < 0:
        return lag.early / 8
    median = lag.median * exp(u)
    low = -inf if n == 0 else (log(n) - log(median)) / lag.sigma
    body = phi((log(n + 1) - log(median)) / lag.sigma) - phi(low)
    r = exp(-1 / lag.old_mean)
    return (1 - lag.old_weight - lag.early) * body + lag.old_weight * (1 - r) * r**n


@pytest.mark.parametrize("lag", LAGS)
@pytest.mark.parametrize("u", [-1.05, 0.0, 0.35])
def test_a_lag_is_log_normal_with_old_stock_and_a_little_before(lag: Lag, u: float) -> None:
    table = lag.table(300, np.array([u]))
    assert table.shape == (1, 300 + EARLY)
    slow = [slow_lag(lag, n, u) for n in range(-EARLY, 300)]
    assert np.abs(table[0] - slow).max() < 1e-15


@pytest.mark.parametrize("lag", LAGS)
def test_all_lags_together_are_one(lag: Lag) -> None:
    table = lag.table(60_000, np.array([-0.5, 0.0, 0.5]))
    assert table.sum(axis=1) == pytest.approx([1.0] * 3, abs=1e-5)
    assert (table >= 0).all()


def test_half_of_the_log_normal_lies_below_its_median() -> None:
    assert log_normal(500, log(20.0), 0.5)[:20].sum() == pytest.approx(0.5, abs=1e-12)


def test_the_stock_age_has_thirteen_nodes_of_a_normal_spread() -> None:
    values, weights = stock_age_nodes(0.35)
    assert len(values) == NODES == 13
    assert weights.sum() == pytest.approx(1.0, abs=1e-15)
    assert (values * weights).sum() == pytest.approx(0.0, abs=1e-15)
    z = [-3 + 0.5 * k for k in range(13)]
    raw = [exp(-(x**2) / 2) for x in z]
    assert np.allclose(values, [0.35 * x for x in z], atol=1e-15)
    assert np.allclose(weights, [w / sum(raw) for w in raw], atol=1e-15)


def test_every_class_of_part_has_the_lag_that_the_packs_name(common: Reference) -> None:
    values = {name: a.value for name, a in common.assumptions.items()}
    lag = Lag.of_class("valve", values)
    assert (lag.median, lag.sigma, lag.old_weight, lag.old_mean, lag.early) == (
        10,
        0.7,
        0.05,
        104,
        0.005,
    )
    service = Lag.of_service(values)
    assert (service.median, service.sigma, service.old_weight, service.old_mean, service.early) == (
        20,
        0.6,
        0.1,
        156,
        0.0,
    )


def test_a_class_without_lags_of_its_own_has_those_of_other_dated_parts(common: Reference) -> None:
    dossier = amp([], common, as_of=date(1935, 1, 1))
    values = {name: a.value for name, a in common.assumptions.items()}
    setting = Setting.of(dossier, common, values, None, Workspace())
    odd, other = setting.lags("cabinet"), setting.lags("other")
    assert np.array_equal(odd.original.table, other.original.table)
    pots = setting.lags("potentiometer")
    assert not np.array_equal(odd.original.table, pots.original.table)
    assert odd.period_half == 156 and odd.concentration == 0.4
