"""Identical codes are one delivery, not so many witnesses."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from endbell.chronology import weigh
from endbell.chronology.workspace import Workspace
from endbell.dossier import Mark
from endbell.reference import Reference

from .amp import amp, code, stamped, width
from .asking import date_of

LEVELS = (0.5, 0.8, 0.95)


def pots(count: int, text: str = "992-6347") -> list[Mark]:
    return [code(f"pot-{i}", text) for i in range(1, count + 1)]


def test_identical_codes_do_not_narrow_the_interval_like_independent_witnesses(
    common: Reference, workspace: Workspace
) -> None:
    widths = [width(date_of(amp(pots(k), common), common, workspace)) for k in range(1, 7)]
    # the second pot says that the first was no replacement; after that hardly anything is learnt
    for k in range(3, 7):
        assert widths[k - 1] > 0.95 * widths[1] > widths[1] * sqrt(2 / k)
    # alone, it may be a replacement: then the set has room for the years around
    assert widths[0] > widths[1] > 35


@pytest.mark.parametrize("count", range(1, 7))
def test_the_middle_half_stays_as_wide_however_many_identical_codes(
    count: int, common: Reference, workspace: Workspace
) -> None:
    one = width(date_of(amp(pots(1), common), common, workspace), 0.5)
    many = width(date_of(amp(pots(count), common), common, workspace), 0.5)
    assert many > 0.9 * one


def test_identical_pots_are_said_to_have_come_together(
    common: Reference, workspace: Workspace
) -> None:
    verdict = weigh(amp(pots(4), common), common, looks=0, workspace=workspace)
    (delivery,) = verdict.deliveries
    assert set(delivery.parts) == {"pot-1", "pot-2", "pot-3", "pot-4"}
    assert delivery.together > 0.9 and delivery.all_original > 0.9


def test_pots_of_two_suppliers_never_came_together(common: Reference, workspace: Workspace) -> None:
    two = [code("pot-1", "992-6347"), code("pot-2", "991-6347")]
    assert weigh(amp(two, common), common, looks=0, workspace=workspace).deliveries == ()


def test_transformers_of_one_supplier_are_of_two_classes_and_no_delivery(
    common: Reference, workspace: Workspace
) -> None:
    two = [code("pt", "993-6347"), code("ot", "993-6347")]
    assert weigh(amp(two, common), common, looks=0, workspace=workspace).deliveries == ()


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(
    "blurred", ["992-3?7", "992-34?", "992-?47", "99?-347", "992-3??", "...47", "992-[38]47"]
)
def test_blurring_one_of_two_equal_codes_does_not_narrow_the_interval(
    blurred: str, level: float, common: Reference, workspace: Workspace
) -> None:
    def weighed(second: str) -> int:
        marks = [code("pot-1", "992-347"), code("pot-2", second)]
        return width(date_of(amp(marks, common, made="1960/1969"), common, workspace), level)

    # a week of play: a part whose source can't be read may also have come by itself
    assert weighed(blurred) >= weighed("992-347") - 1


@pytest.mark.parametrize("legibility", ["worn", "poor"])
def test_a_worn_copy_of_a_code_does_not_narrow_the_interval(
    legibility: str, common: Reference, workspace: Workspace
) -> None:
    def weighed(second: Mark) -> int:
        marks = [code("pot-1", "992-347"), second]
        return width(date_of(amp(marks, common, made="1960/1969"), common, workspace))

    clear = weighed(code("pot-2", "992-347"))
    assert weighed(code("pot-2", "992-347", legibility)) >= clear


def test_a_blurred_pot_may_have_come_with_the_clear_ones(
    common: Reference, workspace: Workspace
) -> None:
    marks = [code("pot-1", "992-347"), code("pot-2", "992-347"), code("pot-3", "99?-3?7", "worn")]
    verdict = weigh(amp(marks, common, made="1960/1969"), common, looks=0, workspace=workspace)
    assert verdict.deliveries[0].parts == ("pot-1", "pot-2", "pot-3")


EIGHT = (
    code("pt", "993-6344"),
    code("ot", "993-6344"),
    code("choke", "993-6344"),
    code("rt", "993-6344"),
    code("pot-1", "992-6339"),
    code("pot-2", "991-6339"),
    code("sp-1", "995-6345"),
    stamped("cap-1", "6337", "date-code"),
)


def test_eight_agreeing_parts_of_eight_suppliers_leave_seven_weeks(
    common: Reference, workspace: Workspace
) -> None:
    p = date_of(amp(EIGHT, common), common, workspace)
    # the narrowest that dated parts alone ever get here: seven weeks with 95%
    assert 6 <= width(p) <= 13


def test_six_pots_and_two_transformers_leave_a_quarter_of_a_year(
    common: Reference, workspace: Workspace
) -> None:
    marks = [*pots(6, "992-6343"), code("pt", "993-6347"), code("ot", "993-6349")]
    p = date_of(amp(marks, common), common, workspace)
    assert 10 <= width(p) <= 26


def test_a_slow_factory_had_old_stock_of_everything(
    common: Reference, workspace: Workspace
) -> None:
    """Lags of one amp move together: with independent lags the set would be narrower."""
    from endbell.chronology.weighing import posterior

    dossier = amp(EIGHT, common)
    together = posterior(dossier, common, workspace=workspace).joint.by_week
    apart = posterior(dossier, common, {"stock_age.sigma": 0.0}, workspace=workspace).joint.by_week
    assert width(together) > width(apart)
    assert np.isclose(together.sum(), 1.0, atol=1e-12)
