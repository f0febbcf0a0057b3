from __future__ import annotations

from datetime import date

import pytest

from endbell.marks import Seen, read_mark

from .conftest import Read, Refused
from .small import TABLES

KIND = "serial"


def test_a_serial_lies_on_the_straight_line_through_its_range(read: Read) -> None:
    (first,) = read(KIND, "A1001").readings
    assert (first.first, first.last, first.spread_weeks) == (
        date(1963, 1, 1),
        date(1963, 1, 1),
        6.0,
    )
    (middle,) = read(KIND, "a 1501").readings
    assert middle.first == date(1963, 7, 2)
    assert dict(middle.facts) == {"range": "early", "number": "1501"}


def test_a_serial_that_two_ranges_hold_is_in_both(read: Read) -> None:
    reading = read(KIND, "A1950")
    assert {dict(r.facts)["range"]: r.p for r in reading.readings} == {"early": 0.5, "overlap": 0.5}


def test_leading_zeros_and_separators_do_not_matter(read: Read) -> None:
    assert read(KIND, "A-01501").readings[0].first == read(KIND, "A1501").readings[0].first


def test_an_unreadable_last_digit_hardly_matters(read: Read) -> None:
    (block,) = [r for r in read(KIND, "A150?").readings if r.p > 0.5]
    assert block.first is not None
    assert abs((block.first - date(1963, 7, 3)).days) <= 14
    assert block.spread_weeks >= 6.0


def test_an_unreadable_first_digit_leaves_all_ranges(read: Read) -> None:
    readings = read(KIND, "A?500").readings
    first_days = [r.first for r in readings if r.first]
    assert {day.year for day in first_days} == {1963, 1964, 1965}
    assert sum(r.p for r in readings) == pytest.approx(1.0)


def test_blocks_hold_as_many_numbers_as_can_be_shown(read: Read) -> None:
    readings = read(KIND, "A1?5?").readings
    by_range: dict[str, float] = {}
    for reading in readings:
        name = dict(reading.facts)["range"]
        by_range[name] = by_range.get(name, 0.0) + reading.p
    # 1050..1059, 1150..1159, ... 1950..1959: a hundred in 'early', the last ten in 'overlap' too
    assert by_range["early"] == pytest.approx(100 / 110)
    assert by_range["overlap"] == pytest.approx(10 / 110)


def test_a_lost_end_leaves_the_numbers_that_begin_so(read: Read) -> None:
    readings = read(KIND, "A12...").readings
    days = [r.first for r in readings if r.first]
    assert min(days) >= date(1963, 2, 1)
    assert max(days) <= date(1963, 5, 1)


def test_only_the_named_ranges_are_tried() -> None:
    reading = read_mark(Seen(KIND, "A1950", schemes=("overlap",)), TABLES)
    assert [dict(r.facts)["range"] for r in reading.readings] == ["overlap"]


@pytest.mark.parametrize("text", ["A999", "A4001", "B1501", "1501", "A15X1"])
def test_a_serial_in_no_range_is_a_misfit_that_lists_the_ranges(
    refused: Refused, text: str
) -> None:
    problem = refused(KIND, text)
    assert "in no range" in problem.found
    assert "A1001 to A2000 (1963–1963)" in problem.accepted


def test_a_worn_serial_is_weighed_through_the_matrix(read: Read) -> None:
    readings = read(KIND, "A1501", "worn").readings
    assert readings[0].first is not None
    assert abs((readings[0].first - date(1963, 7, 2)).days) <= 21
    assert readings[0].p > 0.8
