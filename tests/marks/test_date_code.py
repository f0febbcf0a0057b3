from __future__ import annotations

from datetime import date

import pytest

from .conftest import Read, Refused

KIND = "date-code"


def test_four_digits_are_year_and_week_without_a_source(read: Read) -> None:
    reading = read(KIND, "7403")
    assert reading.dating == "week-code"
    assert [(len(s.source), len(s.year), len(s.week)) for s in reading.splits] == [(0, 2, 2)]
    assert [(r.label, r.source) for r in reading.readings] == [("1974-W03", None)]


def test_an_unclear_year_digit_leaves_both_years(read: Read) -> None:
    found = {r.label: r.p for r in read(KIND, "7[34]03").readings}
    assert found["1973-W03"] == found["1974-W03"] == pytest.approx(0.49)


def test_three_digits_leave_the_decade_open_and_say_so(read: Read) -> None:
    reading = read(KIND, "348")
    assert len(reading.readings) == 10
    assert "three digits" in reading.flags[0]


def test_two_letters_are_read_in_every_cycle_of_the_year_letter(read: Read) -> None:
    reading = read(KIND, "ro")
    assert reading.dating == "dated"
    assert [(r.label, r.p) for r in reading.readings] == [("1983-10", 0.5), ("2003-10", 0.5)]
    assert reading.readings[0].last == date(1983, 10, 31)
    assert reading.scheme == (date(1970, 1, 1), date(2003, 12, 31))


def test_the_letter_o_and_a_nought_are_one_glyph(read: Read) -> None:
    assert read(KIND, "R0").readings[0].label == "1983-10"
    assert read(KIND, "R0").text == "R0"


def test_an_unreadable_month_leaves_the_twelve(read: Read) -> None:
    assert len(read(KIND, "A?").readings) == 24
    assert len(read(KIND, "A...").readings) == 24


def test_a_worn_letter_code_is_weighed_through_the_matrix(read: Read) -> None:
    readings = read(KIND, "A1", "worn").readings
    assert readings[0].label == "1970-01"
    by_label = {r.label: r.p for r in readings}
    assert by_label["1970-07"] > by_label["1970-02"]  # 1 and 7 are twins


@pytest.mark.parametrize("text", ["7454", "7400", "74", "Q1", "AE", "A1B", "74030", "1"])
def test_a_clear_text_without_a_meaning_is_a_misfit(refused: Refused, text: str) -> None:
    assert "YYWW" in refused(KIND, text).accepted


def test_the_nearest_codes_are_offered(refused: Refused) -> None:
    assert "7404" in refused(KIND, "7454").nearest
    assert refused(KIND, "74O3").nearest == ("7403",)
    assert refused(KIND, "AI").nearest[0] == "A1"
