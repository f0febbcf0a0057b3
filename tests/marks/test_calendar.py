from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.marks.calendar import (
    association_week_days,
    coded_week_days,
    iso_week_days,
    iso_week_of,
    january_week_days,
    month_days,
    week_label,
    weeks_in_year,
)
from endbell.marks.errors import WeekError

days = st.dates(date(1900, 1, 1), date(2050, 12, 31))


@given(days)
def test_every_day_lies_in_the_iso_week_it_is_said_to_be_in(day: date) -> None:
    first, last = iso_week_days(*iso_week_of(day))
    assert first <= day <= last
    assert (first.isoweekday(), last.isoweekday()) == (1, 7)


@given(st.integers(1900, 2050), st.integers(1, 53))
def test_the_three_conventions_are_never_more_than_a_week_apart(year: int, week: int) -> None:
    starts = [
        convention(year, week)[0]
        for convention in (coded_week_days, association_week_days, january_week_days)
    ]
    assert max(starts) - min(starts) <= timedelta(days=7)


@given(st.integers(1900, 2050), st.integers(1, 53))
def test_association_weeks_run_from_sunday_to_saturday(year: int, week: int) -> None:
    first, last = association_week_days(year, week)
    assert (first.isoweekday(), last.isoweekday()) == (7, 6)


def test_weeks_counted_from_january_end_with_the_year() -> None:
    assert january_week_days(1965, 1) == (date(1965, 1, 1), date(1965, 1, 7))
    assert january_week_days(1965, 53) == (date(1965, 12, 31), date(1965, 12, 31))


def test_a_code_may_name_week_53_of_a_52_week_year() -> None:
    assert weeks_in_year(1965) == 52
    with pytest.raises(WeekError, match="weeks 1 to 52"):
        iso_week_days(1965, 53)
    assert coded_week_days(1965, 53) == iso_week_days(1966, 1)


@pytest.mark.parametrize(("year", "week"), [(1964, 0), (1964, 54), (0, 1), (9999, 1)])
def test_a_week_that_does_not_exist_is_refused(year: int, week: int) -> None:
    with pytest.raises(WeekError):
        coded_week_days(year, week)


def test_a_month_ends_on_its_last_day() -> None:
    assert month_days(1964, 2) == (date(1964, 2, 1), date(1964, 2, 29))
    assert week_label(1964, 5) == "1964-W05"
