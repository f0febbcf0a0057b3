from __future__ import annotations

from datetime import date

import pytest

from .conftest import Read, Refused

KIND = "year-stamp"


def test_the_last_two_digits_are_the_year_and_the_rest_is_kept(read: Read) -> None:
    reading = read(KIND, "5 0364")
    (only,) = reading.readings
    assert (only.label, only.first, only.last) == ("1964", date(1964, 1, 1), date(1964, 12, 31))
    assert only.facts == (("in front", "5 03"),)
    assert reading.text == "5 0364"
    assert reading.scheme == (date(1930, 1, 1), date(2029, 12, 31))


def test_every_ending_has_one_year(read: Read) -> None:
    labels = [read(KIND, f"{n:02d}").readings[0].label for n in range(100)]
    assert sorted(labels) == [str(year) for year in range(1930, 2030)]


def test_an_unreadable_digit_leaves_ten_years(read: Read) -> None:
    years = {r.label: r.p for r in read(KIND, "?4").readings}
    assert len(years) == 10
    assert years["1964"] == pytest.approx(0.1)


def test_an_unreadable_end_may_be_no_digit(read: Read) -> None:
    years = {r.label: r.p for r in read(KIND, "64?").readings}
    assert years["1940"] == pytest.approx(0.9 / 9.1)
    assert years["1964"] == pytest.approx(0.1 / 9.1)


def test_a_lost_end_leaves_the_year_nearly_open(read: Read) -> None:
    years = {r.label: r.p for r in read(KIND, "036...").readings}
    assert len(years) == 100
    assert years["1964"] > years["1954"] > 0


def test_a_lost_front_is_no_loss(read: Read) -> None:
    assert [r.label for r in read(KIND, "...64").readings] == ["1964"]
    assert len(read(KIND, "...4").readings) == 10


def test_a_worn_stamp_keeps_all_years_its_matrix_allows(read: Read) -> None:
    readings = read(KIND, "63", "poor").readings
    assert readings[0].label == "1963"
    assert {r.label for r in readings[1:3]} == {"1953", "1968"}


@pytest.mark.parametrize("text", ["4", "6-4", "6O", "AB", "19 4"])
def test_a_stamp_that_ends_in_no_year_is_a_misfit(refused: Refused, text: str) -> None:
    assert "two digits of the year" in refused(KIND, text).accepted


def test_a_letter_o_is_offered_as_a_nought(refused: Refused) -> None:
    assert refused(KIND, "6O").nearest == ("60",)
