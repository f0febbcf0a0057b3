from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from endbell.marks import MarkReading, Seen, read_mark
from endbell.marks.likely_readings import OTHER
from endbell.marks.tables import CodeGrammar, CodeShape

from .conftest import Read, Refused
from .small import GRAMMAR, TABLES

KIND = "source-date-code"


def shapes(reading: MarkReading) -> list[tuple[int, int]]:
    return sorted((len(split.source), len(split.year)) for split in reading.splits)


def test_one_year_digit_leaves_every_decade_open(read: Read) -> None:
    reading = read(KIND, "993-348")
    assert reading.dating == "week-code"
    assert [r.label for r in reading.readings] == [f"{y}-W48" for y in range(1933, 2030, 10)]
    assert {round(r.p, 12) for r in reading.readings} == {0.1}
    third = reading.readings[3]
    assert (third.source, third.first, third.last) == ("993", date(1963, 11, 25), date(1963, 12, 1))


def test_each_reading_has_its_days_by_the_other_two_conventions(read: Read) -> None:
    facts = dict(read(KIND, "993-348").readings[3].facts)
    assert facts["by Sunday-start weeks"] == "1963-11-24/1963-11-30"
    assert facts["counted from 1 January"] == "1963-11-26/1963-12-02"
    assert facts["supplier"] == "Halden Coil"


def test_years_before_the_scheme_are_flagged(read: Read) -> None:
    early = [r.label for r in read(KIND, "993-348").readings if r.flags]
    assert early == ["1933-W48", "1943-W48"]


def test_without_a_separator_seven_digits_are_cut_both_ways(read: Read) -> None:
    reading = read(KIND, "9936448")
    assert shapes(reading) == [(3, 2), (4, 1)]
    best = reading.readings[0]
    assert (best.source, best.label) == ("993", "1964-W48")
    # ten decades of one four-digit number against one week of one three-digit number
    assert best.p == pytest.approx(0.97 / 1000 / (0.97 / 1000 + 10 * 0.03 / 10000))


def test_a_separator_ends_a_group(read: Read) -> None:
    assert shapes(read(KIND, "992-5738")) == [(3, 2)]
    assert shapes(read(KIND, "9925-738")) == [(4, 1)]
    assert shapes(read(KIND, "992 57 38")) == [(3, 2)]


def test_leading_zeros_count(read: Read) -> None:
    assert read(KIND, "099-348").readings[0].source == "099"


def test_two_year_digits_are_read_in_both_centuries_where_both_are_possible(read: Read) -> None:
    assert [r.label for r in read(KIND, "993-4108").readings] == ["1941-W08", "2041-W08"]
    assert [r.label for r in read(KIND, "993-5708").readings] == ["1957-W08"]


def test_an_unreadable_digit_lists_every_week_it_leaves(read: Read) -> None:
    reading = read(KIND, "993-3?8")
    weeks = {r.label[5:] for r in reading.readings if r.label != OTHER}
    assert weeks == {"W08", "W18", "W28", "W38", "W48"}
    assert reading.readings[-1].label == OTHER
    assert reading.readings[-1].p == pytest.approx(10 / 50)


def test_an_unreadable_source_digit_stays_unreadable(read: Read) -> None:
    assert {r.source for r in read(KIND, "9?3-348").readings} == {"9?3"}


def test_an_unreadable_end_may_be_no_character_at_all(read: Read) -> None:
    reading = read(KIND, "?993348")
    assert shapes(reading) == [(3, 1), (3, 2), (4, 1)]
    assert [s.weight for s in reading.splits] == pytest.approx([0.1, 0.9, 0.9])


def test_lost_characters_leave_every_longer_shape(read: Read) -> None:
    reading = read(KIND, "...348")
    assert shapes(reading) == [(2, 1), (3, 1), (3, 2), (4, 1), (4, 2)]
    three = next(s for s in reading.splits if (len(s.source), len(s.year)) == (3, 1))
    assert three.source == ((1.0,) * 10,) * 3
    assert three.weight == pytest.approx(0.125)


def test_a_worn_code_is_weighed_through_the_matrix(read: Read) -> None:
    readings = read(KIND, "993-348", "worn").readings
    by_label = {(r.source, r.label): r.p for r in readings}
    assert readings[0].source == "993"
    assert by_label["993", "1963-W48"] == pytest.approx(by_label["993", "1973-W48"])
    assert readings[-1].label == OTHER
    assert len(readings) <= 13


def test_a_worn_week_out_of_range_is_weighed_as_what_it_may_have_been(read: Read) -> None:
    assert read(KIND, "993-354", "worn").misfit is None


def test_the_best_readings_equal_those_of_the_plain_enumeration(read: Read) -> None:
    grammar: CodeGrammar = replace(
        GRAMMAR,
        shapes=(CodeShape(1, 1), CodeShape(1, 2)),
        first_year=1960,
        last_year=1969,
        last_two_digit_year=1969,
        source_length_share={1: 1.0},
    )
    tables = replace(TABLES, grammar=grammar)
    reading = read_mark(Seen(KIND, "[35]631?", "worn"), tables)
    slow: dict[tuple[int, int, str], float] = {}
    for split in reading.splits:
        for source in range(10):
            for year in range(1960, 1970):
                for week in range(1, 54):
                    p = split.weight * split.source[0][source] * split.week[1][week % 10]
                    p *= split.week[0][week // 10] * split.year[-1][year % 10]
                    if len(split.year) == 2:
                        p *= split.year[0][6]
                    key = (year, week, str(source))
                    slow[key] = slow.get(key, 0.0) + p
    total = sum(slow.values())
    ranked = sorted(slow.items(), key=lambda item: (-item[1], item[0]))
    listed = [r for r in reading.readings if r.label != OTHER]
    assert len(listed) == 12
    for (key, weight), found in zip(ranked, listed, strict=False):
        assert found.p == pytest.approx(weight / total)
        assert found.p == pytest.approx(slow[_key(found.label, found.source)] / total)
        assert key in slow


def _key(label: str, source: str | None) -> tuple[int, int, str]:
    return int(label[:4]), int(label[6:]), source or ""


@pytest.mark.parametrize("text", ["993-354", "993-300", "993-399", "9995960", "9990800"])
def test_a_clear_week_that_no_year_has_is_a_misfit_with_the_nearest_codes(
    refused: Refused, text: str
) -> None:
    problem = refused(KIND, text)
    assert "no week from 01 to 53" in problem.found
    assert "3+1+2" in problem.accepted
    assert problem.nearest
    for nearest in problem.nearest:
        assert sum(a != b for a, b in zip(nearest, text, strict=True)) == 1
        assert 1 <= int(nearest[-2:]) <= 53


def test_a_letter_for_a_digit_is_a_misfit_however_worn_and_the_digit_is_offered(
    refused: Refused,
) -> None:
    for legibility in ("clear", "worn", "poor"):
        assert refused(KIND, "99O-348", legibility).nearest == ("990-348",)
    assert refused(KIND, "99X-348").nearest == ()


def test_separators_that_part_no_groups_are_named(refused: Refused) -> None:
    problem = refused(KIND, "99-3348")
    assert "separators" in problem.found
    assert problem.nearest == ("993348",)


@pytest.mark.parametrize("text", ["9", "9933", "993348123"])
def test_a_length_that_no_shape_has_is_named(refused: Refused, text: str) -> None:
    assert f"{len(text)} digit" in refused(KIND, text).found


def test_spans_say_where_each_group_stands_and_which_is_in_doubt(read: Read) -> None:
    text = "993-[34]48"
    spans = read(KIND, text).readings[0].spans
    assert [(s.group, text[s.start : s.end], s.doubtful) for s in spans] == [
        ("source", "993", False),
        ("year", "[34]", True),
        ("week", "48", False),
    ]
