"""How a table of marks is understood before anything is weighed."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from endbell.batch.columns import Understood, parse_maps, understand
from endbell.batch.errors import ColumnsUnclear, InputUnreadable
from endbell.batch.tables import MAX_CELL, rows_of

from .conftest import Weigh, rows, write_table

PARTS = {"ot", "pot-1", "pot-2", "sp-1", "cab"}

MARKS = [
    ["TR-1", "ot", "993-348", "clear"],
    ["TR-1", "pot-1", "992-341", "worn"],
    ["TR-2", "sp-1", "995-402", "clear"],
    ["TR-2", "pot-2", "992-3?1", "poor"],
]


def table(heading: list[str], body: list[list[str]] | None = None, **given: str) -> Understood:
    found = MARKS if body is None else body
    return understand([heading, *found] if heading else found, PARTS.__contains__, given)


def test_headings_in_the_words_of_a_shop_are_known() -> None:
    found = table(["Ticket", "Component", "Date_Code", "Legible"])
    assert found.fields == ("dossier", "part", "text", "legibility")
    assert found.certain
    assert found.header == 1
    assert found.first_rows[0] == ("TR-1", "ot", "993-348", "clear")


def test_the_keys_of_a_dossier_file_are_headings() -> None:
    names = ["dossier", "part", "kind", "claim.built", "as_of", "uncertainty"]
    assert table(names, [["a", "ot", "date-code", "1964", "2026-03-02", "0.1"]]).fields == tuple(
        names
    )


def test_a_title_above_the_headings_is_passed_over() -> None:
    marks = [[*row[:3], "7"] for row in MARKS]
    body = [["Marks of the spring auction"], ["Dossier", "Part", "Code", "Shelf"], *marks]
    found = understand(body, PARTS.__contains__)
    assert found.header == 2
    assert found.fields == ("dossier", "part", "text", "")


def test_without_headings_the_cells_speak_and_it_is_a_guess() -> None:
    found = table([])
    assert found.fields == ("dossier", "part", "text", "legibility")
    assert found.missing == ()
    assert not found.certain


def test_a_heading_that_its_cells_contradict_is_doubted() -> None:
    swapped = [[d, text, part, word] for d, part, text, word in MARKS]
    found = table(["Dossier", "Part", "Code", "Legibility"], swapped)
    assert not found.certain
    assert "don't fit" in found.columns[1].why


def test_of_two_columns_for_one_field_the_first_is_used_and_doubted() -> None:
    found = table(["Dossier", "Part", "Code", "Stamp"])
    assert found.fields == ("dossier", "part", "text", "")
    assert not found.certain


def test_what_is_missing_is_named() -> None:
    body = [[str(n), "x" * n] for n in range(4)]
    assert table(["Price", "Buyer"], body).missing == ("dossier", "part", "text")
    assert table(["Dossier", "Part", "Feature", "Value"]).missing == ()


@pytest.mark.parametrize("name", ["Shelf", "shelf", "3"])
def test_what_a_column_is_can_be_said_by_heading_or_number(name: str) -> None:
    found = table(["Dossier", "Part", "Shelf"], [row[:3] for row in MARKS], **{name: "text"})
    assert found.fields == ("dossier", "part", "text")
    assert found.certain


def test_a_column_that_is_said_takes_the_place_of_the_guessed_one() -> None:
    found = table(["Dossier", "Part", "Code", "Shelf"], Shelf="text", Part="ignore")
    assert found.fields == ("dossier", "", "", "text")


def test_a_date_is_the_day_it_was_seen_unless_there_are_papers() -> None:
    heading = ["dossier", "part", "kind", "text", "Date"]
    seen = table(heading, [["a", "ot", "date-code", "6412", "2026-03-02"]])
    papers = table(heading, [["a", "cab", "document", "", "1965-02-14"]])
    assert (seen.fields[4], papers.fields[4]) == ("on", "date")


@pytest.mark.parametrize(
    ("pair", "why"),
    [("Stamp", "COLUMN=FIELD"), ("Stamp=txt", "did you mean text"), ("=text", "COLUMN=FIELD")],
)
def test_a_map_that_says_nothing_is_refused(pair: str, why: str) -> None:
    with pytest.raises(ColumnsUnclear, match=why):
        parse_maps([pair])


# ---- what stands in the rows


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_separators_and_encodings_are_found_out(
    tmp_path: Path, separator: str, encoding: str
) -> None:
    file = tmp_path / "marks.csv"
    text = separator.join(("dossier", "part", "note")) + "\r\n"
    text += separator.join(("TR-1", "ot", '"Café ½, worn\r\nthrough"')) + "\r\n\r\n"
    file.write_bytes(text.encode(encoding))
    assert list(rows_of(file)) == [
        (1, ["dossier", "part", "note"]),
        (2, ["TR-1", "ot", "Café ½, worn\r\nthrough"]),
    ]


def test_cells_of_a_spreadsheet_are_as_they_show(tmp_path: Path) -> None:
    from datetime import date, datetime

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["0341", 41, 2.0, 2.5, date(2026, 3, 2), datetime(2026, 3, 2), True, None])
    sheet["B1"].number_format = "0000"
    book.save(tmp_path / "a.xlsx")
    shown = ["0341", "0041", "2", "2.5", "2026-03-02", "2026-03-02", "True", ""]
    assert list(rows_of(tmp_path / "a.xlsx")) == [(1, shown)]


def test_what_is_no_table_is_refused_in_a_sentence(tmp_path: Path) -> None:
    for name, data in (
        ("a.csv", b"a,b\0c\n"),
        ("b.csv", b"x" * 1_100_000),
        ("c.xlsx", b"PK\3\4"),
        ("d.xlsx", b"dossier,part"),
    ):
        (tmp_path / name).write_bytes(data)
        with pytest.raises(InputUnreadable, match=name):
            list(rows_of(tmp_path / name))


def test_a_row_that_is_none_is_kept_as_a_bad_row_and_the_rest_is_read(
    weigh: Weigh, tmp_path: Path
) -> None:
    file = write_table(tmp_path / "marks.csv", rows())
    lines = file.read_text().splitlines()
    lines.insert(3, '"' + "x" * (MAX_CELL + 1) + '"')
    lines.insert(5, ",ot,source-date-code,993-348,,,")
    file.write_text("\n".join(lines))
    ran = weigh(file)
    assert len(ran.rows) == 6
    loose = [row for row in ran.bad if row["header"] == "row"]
    assert [row["line"] for row in loose] == ["4", "6"]
    assert "no row of a table" in loose[0]["found"]
    assert loose[1]["found"] == "no dossier: ot, source-date-code, 993-348"
    marks = [row for row in ran.bad if row["header"] == "mark"]
    assert [(row["dossier"], row["line"]) for row in marks] == [("TR-2", "7"), ("TR-4", "11")]


def test_what_contradicts_the_first_row_of_its_dossier_is_a_bad_row(
    weigh: Weigh, tmp_path: Path
) -> None:
    found = rows()[:2]
    found[1]["claim.built"] = "1967"
    ran = weigh(write_table(tmp_path / "marks.csv", found))
    assert [row["found"] for row in ran.bad] == [
        "claim.built '1967', after another on line 2",
    ]


def test_everything_a_dossier_file_says_of_marks_can_stand_in_a_table(
    weigh: Weigh, tmp_path: Path
) -> None:
    text = """id = "TR-9"
as_of = 2026-03-02
[known]
made = "1950/1975"
[claim]
model = "lantern-20"
original = ["everything"]
except = ["valves", "pots"]
[[part]]
id = "ot-spare"
class = "output-transformer"
assembly = "chassis"
[[mark]]
part = "ot-spare"
kind = "source-date-code"
text = "993-348"
legibility = "worn"
photos = ["a.jpg", "b.jpg"]
[[mark]]
part = "covering"
kind = "feature"
feature = "covering-colour"
value = "grey-tweed"
[[mark]]
part = "cloth"
kind = "measured"
quantity = "weave-pitch"
value = 2.31
unit = "mm"
uncertainty = 0.05
[[mark]]
part = "cab"
kind = "document"
date = "1965-02-14"
"""
    (tmp_path / "TR-9.toml").write_text(text, encoding="utf-8")
    blank = dict.fromkeys(
        ("dossier", "part", "kind", "text", "legibility", "photos", "feature", "value", "quantity",
         "unit", "uncertainty", "date", "class", "assembly", "as_of", "known.made", "claim.model",
         "claim.original", "claim.except"), "",
    )  # fmt: skip
    marks = [
        {"part": "ot-spare", "kind": "source-date-code", "text": "993-348", "legibility": "worn",
         "photos": "a.jpg; b.jpg", "class": "output-transformer", "assembly": "chassis"},
        {"part": "covering", "kind": "feature", "feature": "covering-colour",
         "value": "grey-tweed", "as_of": "2026-03-02", "known.made": "1950/1975"},
        {"part": "cloth", "kind": "measured", "quantity": "weave-pitch", "value": "2.31",
         "unit": "mm", "uncertainty": "0.05", "claim.model": "lantern-20"},
        {"part": "cab", "kind": "document", "date": "1965-02-14",
         "claim.original": "everything", "claim.except": "valves, pots"},
    ]  # fmt: skip
    table = write_table(tmp_path / "t.csv", [blank | {"dossier": "TR-9"} | mark for mark in marks])
    file, rowed = weigh(tmp_path / "TR-9.toml", out="a"), weigh(table, out="b")
    assert file.by_id("file") == rowed.by_id("file")
    assert file.bad == rowed.bad == []
    assert file.rows[0]["marks"] == "4"


def test_without_a_column_of_kinds_they_are_guessed_as_for_the_command_line(
    weigh: Weigh, tmp_path: Path
) -> None:
    kinds = write_table(tmp_path / "a.csv", rows())
    none = [{k: v for k, v in row.items() if k != "kind"} for row in rows()]
    none += [
        none[0] | {"dossier": "TR-1", "part": "covering", "text": "covering-colour=grey-tweed"}
    ]
    with_them, without = (
        weigh(kinds, out="a"),
        weigh(write_table(tmp_path / "b.csv", none), out="b"),
    )
    told, guessed = with_them.by_id("file"), without.by_id("file")
    assert {k: v for k, v in guessed.items() if k != "TR-1"} == {
        k: v for k, v in told.items() if k != "TR-1"
    }
    assert guessed["TR-1"]["marks"] == "3"
