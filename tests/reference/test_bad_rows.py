"""A bad row is reported with its place and left out; the good rows round it are read."""

from pathlib import Path

import pytest

from endbell.reference import PackUnreadable, load_reference
from endbell.reference.check import check_pack

from .shop import SAID, write_pack

GOOD = f'[[source_number]]\nnumber = "990"\nname = "Halden Coil, a third number"\n{SAID}'


def _line_of(path: Path, text: str) -> int:
    return next(n for n, line in enumerate(path.read_text("utf-8").splitlines(), 1) if text in line)


BAD = [
    ("letters for a number", '[[source_number]]\nnumber = "99x"\nname = "A"\n', 'number = "99x"'),
    ("a number that is no text", '[[source_number]]\nnumber = 998\nname = "A"\n', "number = 998"),
    ("a key nobody knows", '[[source_number]]\nnumber = "998"\nname = "A"\nnmae = "B"\n', "nmae"),
    ("no name", '[[source_number]]\nnumber = "998"\n', "[[source_number]]"),
    (
        "a share above one",
        (
            '[[supply]]\nnumber = "998"\nname = "A"\nclass = "choke"\nshare = 1.5\n'
            "softness_weeks = 4\n"
        ),
        "share = 1.5",
    ),
    (
        "a month that is none",
        (
            '[[supply]]\nnumber = "998"\nname = "A"\nclass = "choke"\nshare = 1\n'
            'softness_weeks = 4\nfirst = "1959-13"\n'
        ),
        "1959-13",
    ),
    (
        "a window that ends before it begins",
        (
            '[[supply]]\nnumber = "998"\nname = "A"\nclass = "choke"\nshare = 1\n'
            'softness_weeks = 4\nfirst = "1960"\nlast = "1959"\n'
        ),
        'last = "1959"',
    ),
    (
        "a class nobody has",
        '[[supply]]\nnumber = "998"\nname = "A"\nclass = "chokes"\nshare = 1\nsoftness_weeks = 4\n',
        "[[supply]]",
    ),
    ("a model nobody has", '[[run]]\nmodel = "lantern-21"\nvolume = 10\n', "[[run]]"),
    (
        "a feature without a value",
        (
            '[[feature]]\nid = "new"\ntitle = "A"\npart = "cab"\ncost_to_fake = 0.5\n'
            "softness_weeks = 4\n"
        ),
        "[[feature]]",
    ),
    (
        "eleven months",
        '[[chart]]\nid = "c"\nfirst_year = 1950\nyears = "ABC"\nmonths = "ABCDEFGHIJK"\n',
        "ABCDEFGHIJK",
    ),
    (
        "a month letter twice",
        '[[chart]]\nid = "c"\nfirst_year = 1950\nyears = "ABC"\nmonths = "AACDEFGHIJKL"\n',
        "AACDEFGHIJKL",
    ),
    (
        "a pattern that is none",
        '[[term]]\nid = "t"\npatterns = ["(a"]\nstrictness = "hard"\nwords = "a"\n',
        "(a",
    ),
    (
        "a group of condition words above certainty",
        (
            '[[condition]]\nword = "joint-shiny"\ntitle = "a"\ngroup = "joint"\n'
            "if_original = 0.5\nif_later = 0\nif_period = 0\n"
        ),
        "[[condition]]",
    ),
    (
        "a dated class without a lag",
        '[[class]]\nid = "relay"\ntitle = "relay"\nplural = "relays"\ndated = true\n',
        "[[class]]",
    ),
    (
        "a level that is none",
        (
            '[[check]]\nid = "x"\ntitle = "a"\nclass = "choke"\nkind = "condition"\n'
            'level = "inside"\nminutes = 1\nlegible = 0.5\n'
        ),
        'level = "inside"',
    ),
]


@pytest.mark.parametrize(("rows", "at"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_a_bad_row_is_reported_where_it_stands_and_the_good_one_is_read(
    tmp_path: Path, rows: str, at: str
) -> None:
    folder = write_pack(tmp_path / "shop", rows + SAID + "\n" + GOOD)
    reference, problems = load_reference(["brackwater", "shop"], [tmp_path])
    assert reference.tables.sources["990"] == "Halden Coil, a third number"
    (problem,) = problems
    assert problem.file == str(folder / "pack.toml")
    assert problem.line == _line_of(folder / "pack.toml", at)
    assert problem.found
    assert problem.accepted
    assert "998" not in reference.tables.sources
    assert (problem.file, problem.line) in {(p.file, p.line) for p in check_pack(folder)}


def test_rows_are_counted_table_by_table_through_comments(tmp_path: Path) -> None:
    text = (
        f"# names\n{GOOD}\n# [[source_number]] in a comment is no row\n"
        f'[[assumption]]\nname = "serial.leak"\nvalue = 0.02\n{SAID}\n'
        f'[[source_number]]   # the third thing\nnumber = "9"\nname = "B"\n{SAID}'
    )
    folder = write_pack(tmp_path / "shop", text)
    (problem,) = check_pack(folder)
    assert (problem.table, problem.number) == ("source_number", 2)
    assert problem.line == _line_of(folder / "pack.toml", 'number = "9"')
    assert "number = '9'" in problem.found
    assert "two to four digits" in problem.accepted


def test_a_bad_row_of_a_csv_table_has_its_line_even_after_cells_of_several_lines(
    tmp_path: Path,
) -> None:
    table = (
        "number,name,source,confidence\n"
        '990,"Halden Coil,\na third number",shop,sure\n'
        "\n"
        "99,,shop,sure\n"
        "998,Ostrander,shop\n"
        "998,Ostrander,shop,sure\n"
    )
    folder = write_pack(tmp_path / "shop", source_number_csv=table)
    reference, problems = load_reference(["shop"], [tmp_path])
    assert [(p.number, p.line) for p in problems] == [(3, 6), (2, 5)]
    assert problems[0].found == "3 cells"
    assert problems[1].found == "no 'name'"
    assert reference.tables.sources == {"990": "Halden Coil,\na third number", "998": "Ostrander"}
    assert all(p.file == str(folder / "source_number.csv") for p in problems)


def test_one_row_may_have_several_faults_and_all_are_told(tmp_path: Path) -> None:
    rows = '[[source_number]]\nnumber = "1"\nnam = "A"\n' + SAID
    problems = check_pack(write_pack(tmp_path / "shop", rows))
    assert len(problems) == 3
    assert {p.found for p in problems} == {"no 'name'", "number = '1'", "the key 'nam'"}


def test_a_second_row_for_the_same_thing_is_reported_and_the_first_stays(tmp_path: Path) -> None:
    again = f'[[source_number]]\nnumber = "990"\nname = "Another"\n{SAID}'
    write_pack(tmp_path / "shop", GOOD + again)
    reference, (problem,) = load_reference(["shop"], [tmp_path])
    assert reference.tables.sources["990"] == "Halden Coil, a third number"
    assert problem.number == 2
    assert "second" in problem.found


def test_a_row_without_a_source_is_no_row(tmp_path: Path) -> None:
    rows = '[[source_number]]\nnumber = "990"\nname = "A"\nconfidence = "sure"\n'
    (problem,) = check_pack(write_pack(tmp_path / "shop", rows))
    assert problem.found == "no 'source'"


def test_a_table_nobody_knows_is_reported_with_those_there_are(tmp_path: Path) -> None:
    folder = write_pack(tmp_path / "shop", f"[[speaker]]\n{SAID}", knob_csv="a,b\n1,2\n")
    problems = check_pack(folder)
    assert {p.found for p in problems} == {"'speaker'", "a file named 'knob.csv'"}
    assert all("feature_value" in p.accepted for p in problems)


def test_a_bad_row_takes_along_what_leans_on_it(tmp_path: Path) -> None:
    rows = (
        f'[[model]]\nid = "m"\nmaker = "o"\ntitle = "M"\nsoftness_weeks = 4\n{SAID}'
        f'[[run]]\nmodel = "m"\nvolume = -1\n{SAID}'
        f'[[serial]]\nid = "s"\nfirst_number = 1\nlast_number = 2\nfirst = "1960"\nlast = "1961"\n'
        f'spread_weeks = 4\nmodels = ["m"]\n{SAID}'
    )
    write_pack(tmp_path / "shop", rows)
    reference, problems = load_reference(["shop"], [tmp_path])
    assert [p.table for p in problems] == ["run", "model", "serial"]
    assert reference.models == ()
    assert reference.tables.serials == ()


def test_a_confusion_matrix_with_a_letter_missing_is_not_used_in_part(tmp_path: Path) -> None:
    row = ",".join(["worn", "3", *("1" if n == 3 else "0" for n in range(10)), "s", "c"])
    header = "legibility,true,0,1,2,3,4,5,6,7,8,9,source,confidence\n"
    write_pack(tmp_path / "shop", digit_confusion_csv=header + row + "\n")
    reference, problems = load_reference(["shop"], [tmp_path])
    assert problems
    assert "worn" not in reference.tables.digits
    assert "poor" in reference.tables.digits


@pytest.mark.parametrize(
    ("text", "found", "line"),
    [
        ('format = "endbell-pack/2"\nid = "shop"\nversion = "1"\ntitle = "A"\n', "pack/2", None),
        ('format = "endbell-pack/1"\nid = "ship"\nversion = "1"\ntitle = "A"\n', "ship", None),
        ('format = "endbell-pack/1"\nid = "shop"\nversion = 1\ntitle = "A"\n', "version", None),
        ('format = "endbell-pack/1"\nid = shop\n', "no TOML", 2),
    ],
)
def test_a_head_that_cannot_be_used_stops_the_loading_and_says_why(
    tmp_path: Path, text: str, found: str, line: int | None
) -> None:
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "pack.toml").write_text(text, "utf-8")
    with pytest.raises(PackUnreadable) as error:
        load_reference(["shop"], [tmp_path])
    assert found in error.value.found
    assert error.value.line == line
    (problem,) = check_pack(folder)
    assert (problem.line, problem.found) == (line, error.value.found)


def test_bytes_that_are_no_text_are_found_by_line(tmp_path: Path) -> None:
    folder = write_pack(tmp_path / "shop")
    (folder / "source_number.csv").write_bytes(b"number,name\n990,\xff\n")
    (problem,) = check_pack(folder)
    assert problem.line == 2
    assert "UTF-8" in problem.found


def test_a_pack_that_builds_on_an_unknown_one_is_told_which_there_are(tmp_path: Path) -> None:
    folder = write_pack(tmp_path / "shop", builds_on='["brackwatter"]')
    (problem,) = check_pack(folder)
    assert problem.found == "builds_on 'brackwatter'"
    assert "brackwater" in problem.accepted
