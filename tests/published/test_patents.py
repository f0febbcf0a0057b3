"""Patent numbers and years, against dated patents seen in print.

The table of first numbers is partly from memory (its ``how`` columns say so row by row); the 28
dated patents were all seen, with some days or dates inferred as their rows say.
"""

from __future__ import annotations

import pytest

from endbell.marks import Seen, read_mark
from endbell.marks.tables import CodeGrammar, LetterDates, PatentYear, Tables

from .rows import Row, from_memory, rows

YEARS = rows("us_patents_by_year")
DATED = rows("us_patent_checks")
TABLES = Tables(
    {},
    {},
    CodeGrammar((), 0.02, 0.5, 0.05, " -./"),
    LetterDates({}, {}),
    patents=tuple(
        PatentYear(int(row["year"]), int(row["first_utility_no"]), int(row["first_design_no"]))
        for row in YEARS
    ),
)


@pytest.mark.parametrize("row", DATED, ids=lambda row: row["number"])
def test_a_dated_patent_falls_in_the_year_of_its_issue(row: Row) -> None:
    year = row["issue_date"][:4]
    (plain,) = read_mark(Seen("patent-number", row["number"]), TABLES).readings
    assert plain.label == year
    digits = row["number"].removeprefix("D")
    comma = ("D " if digits != row["number"] else "") + f"{int(digits):,}"
    assert read_mark(Seen("patent-number", comma), TABLES).readings[0].label == year


def test_there_are_28_dated_patents_two_of_them_designs_before_the_war() -> None:
    assert len(DATED) == 28
    assert not [row for row in DATED if from_memory(row["how"])]
    assert sum(row["number"].startswith("D") for row in DATED) == 3


def test_which_first_numbers_are_from_memory() -> None:
    seen = [int(row["year"]) for row in YEARS if not from_memory(row["how_utility"])]
    assert seen == [*range(1900, 1913), *range(1920, 1936), 1951, *range(1960, 1976)]


@pytest.mark.parametrize("sort", ["utility", "design"])
def test_the_first_number_of_every_year_is_read_as_of_that_year(sort: str) -> None:
    for row in YEARS:
        number = row[f"first_{sort}_no"]
        text = number if sort == "utility" else f"D{number}"
        assert read_mark(Seen("patent-number", text), TABLES).readings[0].label == row["year"]
