"""A shop's own list of source numbers, whatever its headings, read and never forced in."""

from pathlib import Path

import pytest

from endbell.reference import load_reference
from endbell.reference.names import name_source
from endbell.reference.sources_list import (
    Columns,
    ListUnreadable,
    add_source_list,
    read_source_list,
)


def _csv(tmp_path: Path, text: str, encoding: str = "utf-8") -> Path:
    path = tmp_path / "list.csv"
    path.write_bytes(text.encode(encoding))
    return path


@pytest.mark.parametrize(
    ("text", "number", "name"),
    [
        ("number,name\n990,First\n0998,Second\n", 0, 1),
        ("Company;Town;EIA no.\nFirst;Port Ellery;990\nSecond;;0998\n", 2, 0),
        ("Mfr\tRemarks\tSource code\nFirst\tx\t990\nSecond\ty\t0998\n", 2, 0),
        ("Our list of sources\n\n#,Who it is\n990,First\n0998,Second\n", 0, 1),
        ("990,First\n0998,Second\n", 0, 1),
    ],
    ids=["plain", "semicolons", "tabs", "under a title", "no headings"],
)
def test_columns_are_guessed_from_headings_and_contents(
    tmp_path: Path, text: str, number: int, name: int
) -> None:
    listed = read_source_list(_csv(tmp_path, text))
    assert (listed.columns.number, listed.columns.name) == (number, name)
    assert [(row.number, row.name) for row in listed.rows] == [("990", "First"), ("0998", "Second")]
    bad = [problem for problem in listed.problems if problem.line > 3]
    assert bad == []


def test_the_preview_shows_rows_under_their_headings(tmp_path: Path) -> None:
    rows = "".join(f"{n},Firm {n}\n" for n in range(900, 930))
    listed = read_source_list(_csv(tmp_path, "Source No.,Firm\n" + rows))
    assert listed.headings == ("Source No.", "Firm")
    assert listed.preview[0] == ("900", "Firm 900")
    assert len(listed.preview) == 8
    assert len(listed.rows) == 30


def test_columns_may_be_named_instead(tmp_path: Path) -> None:
    path = _csv(tmp_path, "old,new,name\n991,0991,First\n992,0992,Second\n")
    listed = read_source_list(path, Columns(number=1, name=2, header=0))
    assert [row.number for row in listed.rows] == ["0991", "0992"]


def test_rows_that_cannot_be_used_are_told_by_line(tmp_path: Path) -> None:
    text = 'number,name\n990,"First\nworks"\n99999,Long\nABC,Letters\n998,\n\n997,Last\n'
    listed = read_source_list(_csv(tmp_path, text))
    assert [(row.number, row.name, row.line) for row in listed.rows] == [
        ("990", "First works", 2),
        ("997", "Last", 8),
    ]
    assert [(p.line, p.found) for p in listed.problems] == [
        (4, "number '99999'"),
        (5, "number 'ABC'"),
        (6, "no name for 998"),
    ]


def test_a_number_that_stands_twice_is_reported_and_the_first_is_kept(tmp_path: Path) -> None:
    listed = read_source_list(_csv(tmp_path, "number,name\n990,First\n991,B\n990,Other\n"))
    assert [(row.number, row.name) for row in listed.rows] == [("990", "First"), ("991", "B")]
    (problem,) = listed.problems
    assert problem.line == 4
    assert problem.found == "990 'Other' again, after 'First' on line 2"


def test_a_list_saved_in_an_old_code_page_keeps_its_letters(tmp_path: Path) -> None:
    listed = read_source_list(_csv(tmp_path, "number;name\n990;Müller\n", "cp1252"))
    assert listed.rows[0].name == "Müller"


def test_names_the_shop_already_has_are_never_overwritten(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    name_source(shop, "990", "Ours")
    listed = read_source_list(_csv(tmp_path, "number,name\n990,Theirs\n991,New\n"))
    (taken,) = add_source_list(shop, listed, source="a list from 1959, typed by RT")
    assert (taken.number, taken.there, taken.name) == ("990", "Ours", "Theirs")
    reference, problems = load_reference(["shop"], [tmp_path])
    assert problems == ()
    assert reference.tables.sources == {"990": "Ours", "991": "New"}
    assert "a list from 1959, typed by RT" in (shop / "source_number.csv").read_text("utf-8")


def test_reading_a_list_writes_nothing(tmp_path: Path) -> None:
    path = _csv(tmp_path, "number,name\n990,First\n")
    read_source_list(path)
    assert list(tmp_path.iterdir()) == [path]


def test_a_list_without_numbers_is_not_guessed_at(tmp_path: Path) -> None:
    with pytest.raises(ListUnreadable, match="name the columns"):
        read_source_list(_csv(tmp_path, "firm,town\nFirst,Port Ellery\nSecond,Port Ellery\n"))


def test_a_spreadsheet_keeps_leading_zeros_that_its_format_shows(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Manufacturer", "Number"])
    sheet.append(["First", "0990"])
    sheet.append(["Second", 991])
    sheet.append(["Third", 98])
    sheet["B4"].number_format = "0000"
    sheet.append(["Fourth", 99999])
    path = tmp_path / "list.xlsx"
    book.save(path)
    listed = read_source_list(path)
    assert [(row.number, row.name) for row in listed.rows] == [
        ("0990", "First"),
        ("991", "Second"),
        ("0098", "Third"),
    ]
    assert [problem.line for problem in listed.problems] == [5]


def test_a_file_that_is_no_spreadsheet_says_so(tmp_path: Path) -> None:
    path = tmp_path / "list.xlsx"
    path.write_bytes(b"no zip")
    with pytest.raises(ListUnreadable, match="not a spreadsheet"):
        read_source_list(path)
    table = tmp_path / "list.csv"
    table.write_bytes(b"a\0b,c\n")
    with pytest.raises(ListUnreadable, match="not a CSV"):
        read_source_list(table)
