from __future__ import annotations

from datetime import date

import pytest

from .conftest import Read, Refused

KIND = "hand-date"


def test_the_order_of_day_and_month_is_open(read: Read) -> None:
    reading = read(KIND, "3/4/64")
    assert [(r.label, r.p) for r in reading.readings] == [("1964-03-04", 0.5), ("1964-04-03", 0.5)]
    assert reading.flags == ("the order of day and month is open",)


@pytest.mark.parametrize(
    ("text", "label"),
    [
        ("14/3/64", "1964-03-14"),
        ("3/14/64", "1964-03-14"),
        ("4.4.64", "1964-04-04"),
        ("64-3-14", "1964-03-14"),
        ("1964-03-14", "1964-03-14"),
        ("1964 March 14", "1964-03-14"),
        ("March 14, 1964", "1964-03-14"),
        ("Mar. 14 '64", "1964-03-14"),
        ("14th of march 64", "1964-03-14"),
        ("14MAR64", "1964-03-14"),
        ("Sept 1 63", "1963-09-01"),
        ("140364", "1964-03-14"),
        ("19640314", "1964-03-14"),
        ("14031964", "1964-03-14"),
        ("3-64", "1964-03"),
        ("3/1964", "1964-03"),
        ("1964-03", "1964-03"),
        ("Mar 64", "1964-03"),
        ("1964", "1964"),
        ("'64", "1964"),
    ],
)
def test_a_date_is_read_as_it_was_written(read: Read, text: str, label: str) -> None:
    reading = read(KIND, text)
    assert [r.label for r in reading.readings] == [label]
    assert reading.flags == ()
    assert reading.dating == "dated"


def test_a_month_covers_its_days(read: Read) -> None:
    (only,) = read(KIND, "2-64").readings
    assert (only.first, only.last) == (date(1964, 2, 1), date(1964, 2, 29))


def test_a_year_in_front_is_rare_but_possible(read: Read) -> None:
    found = {r.label: r.p for r in read(KIND, "03/04/05").readings}
    assert found == {
        "2005-03-04": pytest.approx(0.49),
        "2005-04-03": pytest.approx(0.49),
        "2003-04-05": pytest.approx(0.02),
    }


def test_an_unreadable_year_digit_leaves_ten_years(read: Read) -> None:
    assert len(read(KIND, "14 Mar 6?").readings) == 10


def test_a_lost_year_leaves_every_year(read: Read) -> None:
    labels = {r.label[:4] for r in read(KIND, "14 March ...").readings}
    assert labels == {str(year) for year in range(1930, 2030)}


def test_an_unreadable_letter_of_a_month(read: Read) -> None:
    assert [r.label for r in read(KIND, "M?y 64").readings] == ["1964-05"]
    assert len(read(KIND, "Ma? 64").readings) == 2


def test_a_worn_date_keeps_its_likeliest_days(read: Read) -> None:
    readings = read(KIND, "3/14/64", "worn").readings
    assert readings[0].label == "1964-03-14"
    assert readings[0].p > 0.7
    assert "1964-08-14" in {r.label for r in readings[1:6]}  # 3 and 8 are twins


def test_a_date_of_which_nothing_can_be_read_is_read_as_months_or_years(read: Read) -> None:
    readings = read(KIND, "??/??/??").readings
    assert {len(r.label) for r in readings} <= {4, 7}
    assert sum(r.p for r in readings) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "text",
    ["31/2/64", "3/4", "Mar 4", "14 March", "13/13/64", "123", "1/2/3/4", "1864", "é/64"],
)
def test_what_is_no_date_is_a_misfit(refused: Refused, text: str) -> None:
    assert refused(KIND, text).accepted


def test_a_misspelt_month_is_named_and_the_nearest_offered(refused: Refused) -> None:
    problem = refused(KIND, "Mrach 4 1964")
    assert "MRACH" in problem.found
    assert problem.nearest[0] == "March 4 1964"


@pytest.mark.parametrize("text", ["March 12", "3/12"])
def test_a_month_and_a_short_number_may_be_a_day_without_a_year(read: Read, text: str) -> None:
    reading = read(KIND, text)
    assert reading.readings[0].label == "2012-03"
    assert reading.flags == ("the number may be a day without a year",)
