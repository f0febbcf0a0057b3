"""Derivatives of the lag against plain differences."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log

import numpy as np
import pytest

from endbell.chronology.lags import Lag, stock_age_nodes
from endbell.learning.records.slopes import lag_slopes

LAG = Lag(14.0, 0.5, 0.03, 104.0, 0.005)
NODES, _ = stock_age_nodes(0.35)
MOVES = {
    "median": lambda x: replace(LAG, median=LAG.median * exp(x)),
    "sigma": lambda x: replace(LAG, sigma=LAG.sigma * exp(x)),
    "old stock": lambda x: replace(LAG, old_weight=1 / (1 + exp(-log(0.03 / 0.97) - x))),
    "its mean": lambda x: replace(LAG, old_mean=LAG.old_mean * exp(x)),
}


@pytest.mark.parametrize("what", MOVES)
def test_slope_and_curve_of_a_lag_are_its_derivatives(what: str) -> None:
    k, h = list(MOVES).index(what), 1e-3
    whole, up, down = (MOVES[what](x).table(600, NODES) for x in (0.0, h, -h))
    found = lag_slopes(LAG, whole, NODES)
    likely = whole > 1e-9
    assert np.allclose(found[k][likely], ((up - down) / (2 * h) / whole)[likely], atol=2e-4)
    second = (up - 2 * whole + down) / h**2
    assert np.allclose((found[4 + k] * whole), -second, atol=2e-7)


def test_more_of_one_lag_is_less_of_another() -> None:
    whole = LAG.table(6000, NODES)
    found = lag_slopes(LAG, whole, NODES)
    assert np.allclose((found * whole).sum(axis=2), 0.0, atol=1e-6)
