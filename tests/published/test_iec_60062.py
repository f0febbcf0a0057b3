"""The two-character date code of IEC 60062 and the year-and-week form.

Of the year letters E to M and R to W were seen printed; A to D, N, P and X are from memory (high
confidence, and they continue the cycle).  The months were all seen.  The worked cases are computed
from that table, and so test the reader, not the standard.
"""

from __future__ import annotations

import itertools

import pytest

from endbell.marks import Seen, read_mark
from endbell.marks.tables import CodeGrammar, LetterDates, Tables

from .rows import Row, from_memory, rows

CASES = rows("iec60062_date_codes")
LETTERS = [row for row in CASES if row["kind"] == "year_letter_20y"]
MONTHS = [row for row in CASES if row["kind"] == "month_char"]
WORKED = [row for row in CASES if row["kind"] == "worked_case"]
TABLES = Tables(
    {},
    {},
    CodeGrammar((), 0.02, 0.5, 0.05, " -./"),
    LetterDates(
        {row["code"]: tuple(map(int, row["meaning"].split("; "))) for row in LETTERS},
        {row["code"]: int(row["meaning"]) for row in MONTHS},
    ),
)


def labels(text: str) -> list[str]:
    return [reading.label for reading in read_mark(Seen("date-code", text), TABLES).readings]


def test_which_year_letters_are_from_memory() -> None:
    assert {row["code"] for row in LETTERS if from_memory(row["how"])} == set("ABCDNPX")
    assert not [row["code"] for row in MONTHS if from_memory(row["how"])]


def test_the_letters_run_in_order_through_a_twenty_year_cycle() -> None:
    years = [tuple(map(int, row["meaning"].split("; "))) for row in LETTERS]
    assert [cycle[0] for cycle in years] == list(range(1970, 1990))
    assert all(b - a == 20 for cycle in years for a, b in itertools.pairwise(cycle))


@pytest.mark.parametrize("row", WORKED, ids=lambda row: row["code"])
def test_a_worked_case_reads_as_published(row: Row) -> None:
    meaning = row["meaning"]
    if not row["code"].isdecimal():
        assert set(meaning.split("; ")) <= set(labels(row["code"]))
        return
    year, week = int(meaning[:4]), int(meaning[10:12])
    (reading,) = read_mark(Seen("date-code", row["code"]), TABLES).readings
    assert reading.label == f"{year}-W{week:02d}"
    # a week that ISO 8601 does not have is read, since makers counted otherwise, but flagged
    assert bool(reading.flags) == ("invalid" in meaning)


def test_the_standards_own_example_of_year_and_week() -> None:
    (row,) = [row for row in CASES if row["kind"] == "yyww"]
    assert (row["code"], row["meaning"]) == ("1208", "2012 week 08")
    assert labels("1208") == ["2012-W08"]


def test_r_is_2003_though_a_popular_page_is_one_year_off() -> None:
    assert "2003-10" in labels("RO")
    assert "2004-10" not in labels("RO")
