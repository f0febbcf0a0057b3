"""What is written down about tables of marks and of verdicts is what the code does."""

from __future__ import annotations

import re
from pathlib import Path

from endbell.batch import archives, outputs, ranking, tables
from endbell.batch.fields import BY_NAME
from endbell.batch.verdict_row import COLUMNS

from .conftest import Weigh

FORMS = Path(__file__).parents[2] / "docs" / "formats"


def table_of(page: str, head: str) -> list[list[str]]:
    """The rows of the table on a page whose first line is ``head``."""
    text = (FORMS / page).read_text(encoding="utf-8").partition(head)[2]
    rows = text.split("\n\n", 1)[0].strip().split("\n")[1:]
    return [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]


def test_every_field_of_a_table_of_marks_is_written_down() -> None:
    assert table_of("mark-table.md", "| field | what it is | other headings |") == [
        [f"`{field.name}`", field.words, ", ".join(field.headings)] for field in BY_NAME.values()
    ]


def test_every_column_of_the_verdicts_is_written_down() -> None:
    assert table_of("batch.md", "| column | | what it is |") == [
        [f"`{column.name}`", column.form, column.words] for column in COLUMNS
    ]


def test_every_column_of_bad_rows_and_changes_is_written_down() -> None:
    page = (FORMS / "batch.md").read_text(encoding="utf-8")
    told = re.findall(r"^\| (`.*?`) \|", page.partition("## Bad rows")[2], re.MULTILINE)
    names = [name for cell in told for name in re.findall(r"`(\w+)`", cell)]
    assert sorted(names) == sorted((*outputs.BAD_COLUMNS, *ranking.COLUMNS))


def test_the_limits_are_as_written_down() -> None:
    page = (FORMS / "batch.md").read_text(encoding="utf-8").partition("## Limits")[2]
    for limit in (
        f"{archives.MAX_MEMBER // 2**20} MB",
        f"{archives.MAX_UNPACKED // 2**30} GB, and {archives.MAX_RATIO} times",
        f"{archives.RATIO_FROM // 2**20} MB",
        f"{archives.MAX_ZIP_MEMBERS:,} members",
        f"{tables.MAX_LINE:,} characters, a cell {tables.MAX_CELL:,}",
        f"{tables.MAX_SHEET // 2**30} GB; its list of texts {tables.MAX_SHEET_TEXTS // 2**20} MB",
    ):
        assert limit in page


def test_the_table_that_is_shown_can_be_weighed(weigh: Weigh, tmp_path: Path) -> None:
    page = (FORMS / "mark-table.md").read_text(encoding="utf-8")
    (tmp_path / "marks.csv").write_text(page.partition("```csv\n")[2].partition("```")[0])
    ran = weigh(tmp_path / "marks.csv")
    assert [(row["dossier"], row["marks"]) for row in ran.rows] == [("TR-1", "2"), ("TR-2", "1")]
    assert ran.bad == []
