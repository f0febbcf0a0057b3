from __future__ import annotations

from datetime import date

import pytest

from .conftest import Read, Refused

KIND = "patent-number"


@pytest.mark.parametrize(
    "text", ["2613753", "2,613,753", "2 613 753", "U.S. Pat. No. 2,613,753", "PAT. 2613753"]
)
def test_a_patent_dates_from_the_year_of_its_issue(read: Read, text: str) -> None:
    reading = read(KIND, text)
    assert reading.dating == "not-before"
    (only,) = reading.readings
    assert (only.label, only.first, only.last) == ("1952", date(1952, 1, 1), None)


@pytest.mark.parametrize("text", ["D165600", "D 165,600", "Des. 165600", "Des. Pat. 165,600"])
def test_a_d_in_front_is_a_design(read: Read, text: str) -> None:
    (only,) = read(KIND, text).readings
    assert only.label == "1952"
    assert only.facts == (("sort", "design"),)


def test_the_first_number_of_a_year_belongs_to_it(read: Read) -> None:
    assert read(KIND, "2580379").readings[0].label == "1952"
    assert read(KIND, "2580378").readings[0].label == "1951"


def test_an_unreadable_digit_shares_the_years(read: Read) -> None:
    years = {r.label: r.p for r in read(KIND, "26?0000").readings}
    assert years == {
        # 2600000, 2610000, 2620000; 2630000 to 2660000; 2670000 to 2690000
        "1952": pytest.approx(0.3),
        "1953": pytest.approx(0.4),
        "1954": pytest.approx(0.3),
    }


def test_the_last_year_of_the_table_is_open_upwards(read: Read) -> None:
    (only,) = read(KIND, "2700000").readings
    assert only.first == date(1954, 1, 1)
    assert any("or later" in flag for flag in only.flags)


def test_a_number_from_before_the_table_says_nothing(read: Read) -> None:
    reading = read(KIND, "123,456")
    assert reading.dating == "nothing"
    assert reading.readings[0].label == "before 1951"
    assert reading.flags


@pytest.mark.parametrize("text", ["2,6I3,753", "", "D", "RE 24,000", "123456789", "26...", "X12"])
def test_what_is_no_patent_number_is_a_misfit(refused: Refused, text: str) -> None:
    assert refused(KIND, text).accepted


def test_a_letter_that_looks_like_a_digit_is_offered_as_one(refused: Refused) -> None:
    assert refused(KIND, "D 1656O0").nearest == ("D 165600",)
