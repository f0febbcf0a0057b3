"""What the engine says is so as often as it says; and three engines that are wrong are found out.

A few hundred drawn dossiers with fixed seeds.  A sound engine misses one of these thresholds less
than once in a thousand tries; each of the faults misses one by far.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
import pytest

from endbell.chronology.lags import Lag
from endbell.learning.calibration import SCENARIOS, Scenario
from endbell.learning.calibration.record import Records
from endbell.learning.calibration.summary import Figures
from endbell.reference import Reference
from endbell.reference.types import EraKnot

from .slice import ANY_AMP, BRACKWATER, ONE_CODE, POTS, World, broken, weighed

CHRONOLOGY = "endbell.chronology."
WORLDS = {"any amp": ANY_AMP, "brackwater": BRACKWATER, "pots": POTS, "one code": ONE_CODE}


@pytest.fixture(scope="module")
def sound() -> dict[str, tuple[Figures, Records]]:
    """Each kind of dossier as the engine weighs it, weighed once."""
    return {}


def as_it_is(name: str, sound: dict[str, tuple[Figures, Records]]) -> tuple[Figures, Records]:
    if name not in sound:
        sound[name] = weighed(WORLDS[name])
    return sound[name]


@pytest.mark.parametrize("name", WORLDS)
def test_what_is_said_is_so_as_often_as_said(
    name: str, sound: dict[str, tuple[Figures, Records]]
) -> None:
    found, _ = as_it_is(name, sound)
    assert found.n == WORLDS[name].n
    assert found.failed == 0
    assert broken(found) == {}


def test_origins_and_claims_are_told_apart(sound: dict[str, tuple[Figures, Records]]) -> None:
    """An engine that states the base rate each time would be calibrated too, and of no use."""
    for name in ("any amp", "brackwater"):
        found, _ = as_it_is(name, sound)
        assert found.reliability["original"].skill > 0.5
        assert found.reliability["claim"].skill > 0.4
        assert found.reliability["original"].ece < 0.05
        assert found.widths["0.95"] < 60


@pytest.mark.parametrize(
    "scenario", [s for s in SCENARIOS if s.floor is not None], ids=lambda s: s.id
)
def test_a_world_that_is_not_as_stated_is_still_served(
    scenario: Scenario, sound: dict[str, tuple[Figures, Records]]
) -> None:
    _, stated = as_it_is("any amp", sound)
    found, _ = weighed(World(30, scenario=scenario.id), stated=stated)
    assert scenario.floor is not None
    room = 3 * (scenario.floor * (1 - scenario.floor) / found.n) ** 0.5
    assert found.sets["0.95"].hit >= scenario.floor - room
    for rule in found.rules.values():
        assert rule.gain.mean > 0


# ---- three faults


@pytest.fixture
def wrong_sign(monkeypatch: pytest.MonkeyPatch) -> None:
    """D = B + L instead of B - L: a part of this amp is made after it."""
    reach = 600
    right = Lag.table
    rooms = [module for name, module in sys.modules.items() if name.startswith(CHRONOLOGY)]
    reaching = [module for module in rooms if hasattr(module, "EARLY")]
    assert len(reaching) > 1
    for module in reaching:
        monkeypatch.setattr(module, "EARLY", reach)  # room for lags below nought

    def table(self: Lag, size: int, stock_age: np.ndarray) -> np.ndarray:
        found = right(self, size, stock_age)
        if self.early == 0:
            return found  # the lag of a replacement keeps its sign
        turned = np.zeros_like(found)
        turned[:, : 2 * reach + 1] = found[:, 2 * reach :: -1]
        return turned

    monkeypatch.setattr(Lag, "table", table)


@pytest.mark.usefixtures("wrong_sign")
def test_a_lag_of_the_wrong_sign_is_found_out() -> None:
    found, _ = weighed(replace(ANY_AMP, n=40))
    faults = broken(found)
    assert faults["ranks"] < 1e-9
    assert faults["0.95 sets"] < -10


def test_a_delivery_counted_once_a_part_is_found_out() -> None:
    """Every part a delivery of its own: what came together is taken for independent witnesses."""
    found, _ = weighed(POTS, assume={"delivery.concentration": 1e6})
    faults = broken(found)
    assert faults["0.95 sets"] < -6
    assert faults["ranks"] < 1e-6


def test_a_decade_preferred_is_found_out(common: Reference) -> None:
    """Amps of the sixties thought three times as common as they are."""
    known = [(k.year, k.weight) for k in common.era]
    years = range(1930, 2027)
    density = np.interp(years, *zip(*known, strict=True))
    knots = [
        EraKnot(year, float(d) * (3 if 1960 <= year < 1970 else 1))
        for year, d in zip(years, density, strict=True)
    ]
    found, _ = weighed(ONE_CODE, believed=replace(ONE_CODE.reference(), era=tuple(knots)))
    faults = broken(found)
    assert faults["1960s"] < -6
