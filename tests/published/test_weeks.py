"""ISO 8601 weeks and the association's own weeks, against published and computed cases."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from endbell.marks import Seen, WeekError, read_mark
from endbell.marks.calendar import (
    association_week_days,
    iso_week_days,
    iso_week_of,
    weeks_in_year,
)
from endbell.marks.tables import CodeGrammar, CodeShape, LetterDates, Tables

from .rows import Row, rows

CASES = rows("iso8601_edtf_cases")
WEEKS = [row for row in CASES if row["kind"] == "week"]
# both worked examples with a weekday were seen printed; the whole weeks are computed
WEEKDAYS = [row for row in CASES if row["kind"] == "weekday"]
GRAMMAR = CodeGrammar((CodeShape(3, 1), CodeShape(3, 2), CodeShape(4, 1)), 0.02, 0.5, 0.05, " -./")
TABLES = Tables({}, {}, GRAMMAR, LetterDates({}, {}))


@pytest.mark.parametrize("row", WEEKS, ids=lambda row: row["string"])
def test_an_iso_week_has_its_published_days(row: Row) -> None:
    year, week = int(row["string"][:4]), int(row["string"][6:])
    if row["valid"] == "invalid":
        with pytest.raises(WeekError):
            iso_week_days(year, week)
        return
    first, last = iso_week_days(year, week)
    assert (first.isoformat(), last.isoformat()) == (row["interval_start"], row["interval_end"])


@pytest.mark.parametrize("row", WEEKDAYS, ids=lambda row: row["string"])
def test_a_weekday_lies_in_its_published_week(row: Row) -> None:
    year, week, weekday = int(row["string"][:4]), int(row["string"][6:8]), int(row["string"][9:])
    monday, _ = iso_week_days(year, week)
    assert (monday + timedelta(days=weekday - 1)).isoformat() == row["interval_start"]
    assert iso_week_of(date.fromisoformat(row["interval_start"])) == (year, week)


def test_the_years_of_53_weeks_are_the_computed_ones() -> None:
    (row,) = [row for row in CASES if row["kind"] == "years53"]
    listed = [int(year) for year in row["string"].partition(": ")[2].split()]
    assert [year for year in range(1900, 1991) if weeks_in_year(year) == 53] == listed


def test_week_10_of_1999_is_the_associations_own_example() -> None:
    # seen in the association's page on source codes: 113-9910 is 7 to 13 March 1999
    assert association_week_days(1999, 10) == (date(1999, 3, 7), date(1999, 3, 13))
    (reading,) = read_mark(Seen("source-date-code", "113-9910"), TABLES).readings
    assert (reading.source, reading.label) == ("113", "1999-W10")
    assert dict(reading.facts)["by Sunday-start weeks"] == "1999-03-07/1999-03-13"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        # computed from the association's rules
        ("999512", [("999", 1945), ("999", 1955), ("999", 1965)]),
        ("9996453", [("999", 1964), ("9996", 1954), ("9996", 1964)]),
        ("9996553", [("999", 1965)]),
    ],
)
def test_source_and_date_codes_say_what_the_rules_say(
    text: str, said: list[tuple[str, int]]
) -> None:
    readings = read_mark(Seen("source-date-code", text), TABLES).readings
    found = {(r.source or "", int(r.label[:4])) for r in readings}
    assert found >= set(said)


def test_week_53_of_a_52_week_year_is_allowed_and_flagged() -> None:
    readings = read_mark(Seen("source-date-code", "9996453"), TABLES).readings
    flagged = {r.label for r in readings if "week 53 of a 52-week year" in r.flags}
    assert "1954-W53" in flagged
    assert "1964-W53" not in flagged
    (only,) = [
        r
        for r in read_mark(Seen("source-date-code", "9996553"), TABLES).readings
        if r.source == "999"
    ]
    assert only.flags == ("week 53 of a 52-week year",)


@pytest.mark.parametrize("text", ["9995960", "9990800"])
def test_weeks_above_53_and_week_00_are_not_dates(text: str) -> None:
    assert read_mark(Seen("source-date-code", text), TABLES).misfit is not None
