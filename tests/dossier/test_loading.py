"""A dossier file read: good rows used, bad rows reported with their place and kept."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from endbell.dossier import Dossier, DossierError, load_dossier, parse_dossier, read_marks
from endbell.dossier.errors import (
    NotToml,
    OutOfBounds,
    TwoPartsOneId,
    UnknownFormat,
    UnreadableFile,
)
from endbell.dossier.limits import MAX_BYTES
from endbell.reference import Reference, load_reference

from .conftest import COMMAND_DAY, Opened

WHOLE = """
format = "endbell-dossier/1"
id = "TRV-2026-0147"
as_of = 2026-03-02
purpose = "buy"
packs = ["brackwater"]

[known]
made = "1961/1967"

[claim]
maker = "brackwater"
model = "lantern-20-reverb"
built = "1964"
original = ["everything"]
except = ["valves", "electrolytics"]
by = "seller"

[[part]]
id = "ot"
class = "output-transformer"
assembly = "chassis"

[[repair]]
part = "electrolytic-1"
done = "1998-05"
replaced = true
note = "ticket 8812"

[[mark]]
part = "ot"
kind = "source-date-code"
text = "993-3?8"
legibility = "worn"
place = "bell, lower edge"
by = "RT"
on = 2026-03-02
photos = ["photos/ot-bell.jpg"]
note = ""

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
part = "cabinet"
kind = "document"
text = "shop receipt, no. 4411"
date = "1965-02-14"
"""


def with_mark(lines: str) -> str:
    """A dossier with one good mark and the one given."""
    return f"""
id = "x"
packs = ["brackwater"]
[[mark]]
part = "ot"
kind = "source-date-code"
text = "993-348"
on = 2026-01-05

[[mark]]
{lines}
"""


def test_the_form_of_the_contract_is_read_whole(opened: Opened) -> None:
    dossier = opened(WHOLE)
    assert dossier.problems == dossier.remarks == ()
    assert (dossier.id, dossier.as_of, dossier.purpose) == (
        "TRV-2026-0147",
        date(2026, 3, 2),
        "buy",
    )
    assert dossier.made == (date(1961, 1, 1), date(1967, 12, 31))
    assert dossier.claim.model == "lantern-20-reverb"
    assert (dossier.claim.built_from, dossier.claim.built_to) == (
        date(1964, 1, 1),
        date(1964, 12, 31),
    )
    assert dossier.claim.excluded == ("valves", "electrolytics")
    assert dossier.repairs[0].first == date(1998, 5, 1)
    ot, covering, cloth, paper = dossier.marks
    assert (ot.n, ot.text, ot.legibility, ot.photos) == (
        1,
        "993-3?8",
        "worn",
        ("photos/ot-bell.jpg",),
    )
    assert (covering.feature, covering.value) == ("covering-colour", "grey-tweed")
    assert (cloth.value, cloth.uncertainty) == (2.31, 0.05)
    assert paper.date == "1965-02-14"
    assert {part.id: part.assembly for part in dossier.parts} == {
        "ot": "chassis",
        "covering": "cabinet",
        "cloth": "cabinet",
        "cabinet": "cabinet",
        "electrolytic-1": "chassis",
    }


def test_usual_ids_need_no_part(opened: Opened) -> None:
    lines = "".join(
        f'[[mark]]\npart = "{part}"\nkind = "condition"\ntext = "dust-shadow"\n'
        for part in (
            "pot-3",
            "sp-1",
            "ot",
            "tank",
            "chassis",
            "speakers",
            "reverb",
            "papers",
            "label",
        )
    )
    dossier = opened(lines)
    assert dossier.problems == ()
    classes = {part.id: (part.part_class, part.assembly) for part in dossier.parts}
    assert classes["pot-3"] == ("potentiometer", "chassis")
    assert classes["sp-1"] == ("loudspeaker", "speakers")
    assert classes["tank"] == ("reverb-unit", "reverb")
    assert classes["papers"] == ("paper", "papers")


@pytest.mark.parametrize(
    ("lines", "found", "accepted"),
    [
        (
            'part = "ot"\nkind = "sauce-date-code"',
            'unknown kind "sauce-date-code"',
            "source-date-code",
        ),
        (
            'part = "tot"\nkind = "source-date-code"\ntext = "993-348"',
            'unknown part "tot"',
            "usual id",
        ),
        ('kind = "source-date-code"\ntext = "993-348"', "no part", "usual id"),
        ('part = "ot"\nkind = "serial"\ntext = 4411', "the number 4411", '"4411"'),
        ('part = "ot"\nkind = "serial"\ntext = "4411"\nlegibility = "so-so"', "so-so", "worn"),
        ('part = "ot"\nkind = "serial"\ntext = "4411"\nresult = "gone"', "gone", "nothing-found"),
        ('part = "cloth"\nkind = "measured"\nvalue = nan', "nan", "finite"),
        ('part = "cloth"\nkind = "measured"\nvalue = 1.0\nuncertainty = inf', "inf", "finite"),
        ('part = "cloth"\nkind = "measured"\nvalue = -1e300', "-1e+300", "finite"),
        ('part = "cloth"\nkind = "measured"\nvalue = true', "true", "a number"),
        (
            'part = "ot"\nkind = "serial"\ntext = "44\\u202e11"',
            "U+202E right-to-left override",
            "show",
        ),
        ('part = "ot"\nkind = "serial"\ntext = "44\\u000011"', "U+0000", "show"),
        ('part = "ot"\nkind = "serial"\ntext = "' + "4" * 2001 + '"', "2,001 characters", "2,000"),
        ('part = ["ot"]\nkind = "serial"', "a list", "text in quotes"),
    ],
)
def test_a_bad_row_is_reported_with_its_place_and_the_others_are_read(
    opened: Opened, lines: str, found: str, accepted: str
) -> None:
    dossier = opened(with_mark(lines))
    (problem,) = dossier.problems
    assert (problem.file, problem.header, problem.table, problem.line) == (
        "amp.toml",
        "mark",
        2,
        10,
    )
    assert found in problem.found
    assert accepted in problem.accepted
    assert [mark.text for mark in dossier.marks] == ["993-348"]


def test_a_bad_row_is_kept_as_typed(opened: Opened) -> None:
    dossier = opened(with_mark('part = "tot"\nkind = "serial"\ntext = "44\\u202e11"'))
    (kept,) = dossier.set_aside
    assert kept.row["text"] == "44\u202e11"
    assert (kept.header, kept.table, kept.line) == ("mark", 2, 10)


def test_hidden_characters_are_shown_in_the_message(opened: Opened) -> None:
    (problem,) = opened(with_mark('part = "ot"\nkind = "serial"\ntext = "44\\u202e11"')).problems
    assert "\u202e" not in problem.found
    assert "\\u202e" in problem.found


def test_a_code_no_scheme_fits_is_reported_with_the_nearest(
    opened: Opened, reference: Reference
) -> None:
    dossier = opened(with_mark('part = "pot-1"\nkind = "source-date-code"\ntext = "992-354"'))
    assert dossier.problems == ()
    read = read_marks(dossier, reference)
    (problem,) = read.problems
    assert (problem.table, problem.line) == (2, 10)
    assert "992-352" in problem.nearest
    assert [mark.n for mark, _ in read.read] == [1]


def test_the_number_of_a_mark_is_its_place_in_the_file(opened: Opened) -> None:
    text = (
        with_mark('part = "tot"\nkind = "serial"')
        + '[[mark]]\npart = "pt"\nkind = "source-date-code"\ntext = "993-341"\n'
    )
    assert [mark.n for mark in opened(text).marks] == [1, 3]


def test_a_slip_in_a_note_does_not_cost_the_mark(opened: Opened) -> None:
    dossier = opened(
        with_mark('part = "pt"\nkind = "source-date-code"\ntext = "993-341"\nnote = 7\non = "soon"')
    )
    assert len(dossier.marks) == 2
    assert dossier.problems == ()
    assert [remark.found for remark in dossier.remarks] == ['on is "soon"', "note is the number 7"]


def test_unknown_keys_are_kept_and_reported(opened: Opened) -> None:
    dossier = opened(
        'colour = "red"\n'
        + with_mark('part = "pt"\nkind = "serial"\ntext = "1"\nlegibilty = "worn"')
    )
    assert dossier.unknown_keys == ("colour", "mark 2.legibilty")
    assert dossier.extra["mark 2.legibilty"] == "worn"
    assert dossier.remarks[1].nearest == ("legibility",)
    assert dossier.problems == ()


def test_as_of_is_the_newest_mark_where_the_file_says_nothing(opened: Opened) -> None:
    assert opened(
        with_mark('part = "pt"\nkind = "serial"\ntext = "1"\non = 2026-02-03')
    ).as_of == date(2026, 2, 3)
    assert opened(with_mark('part = "pt"\nkind = "serial"\ntext = "1"')).as_of_from == "newest mark"


def test_as_of_is_the_day_of_the_command_where_no_mark_has_a_day(opened: Opened) -> None:
    dossier = opened('id = "x"\n')
    assert (dossier.as_of, dossier.as_of_from) == (COMMAND_DAY, "command day")


def test_a_mark_seen_after_as_of_is_remarked(opened: Opened) -> None:
    dossier = opened("as_of = 2025-12-31\n" + with_mark('part = "pt"\nkind = "serial"\ntext = "1"'))
    assert "after as_of 2025-12-31" in dossier.remarks[0].found


def test_a_claim_with_an_unreadable_year_keeps_its_other_clauses(opened: Opened) -> None:
    dossier = opened('[claim]\nbuilt = "196u"\nmodel = "lantern-20"\n')
    (problem,) = dossier.problems
    assert (problem.header, problem.line) == ("claim", 1)
    assert "196X" in problem.accepted
    assert (dossier.claim.built, dossier.claim.model) == (None, "lantern-20")


@pytest.mark.parametrize(
    ("typed", "built"), [("1964", "1964"), ('"1964-03?"', "1964-03?"), ("1964-03-14", "1964-03-14")]
)
def test_a_year_may_be_typed_without_quotes(opened: Opened, typed: str, built: str) -> None:
    assert opened(f"[claim]\nbuilt = {typed}\n").claim.built == built


def test_a_model_no_pack_knows_is_remarked_with_the_nearest(opened: Opened) -> None:
    (remark,) = opened('[claim]\nmodel = "lantern20"\n').remarks
    assert "lantern-20" in remark.nearest


def test_a_photo_outside_the_folder_is_not_followed(opened: Opened) -> None:
    photos = '["photos/a.jpg", "../b.jpg", "/etc/c.jpg", "file:///d.jpg"]'
    dossier = opened(with_mark(f'part = "pt"\nkind = "serial"\ntext = "1"\nphotos = {photos}'))
    assert dossier.marks[1].photos == ("photos/a.jpg",)
    assert len(dossier.remarks) == 3


def test_a_second_part_with_the_same_id_is_refused(opened: Opened) -> None:
    text = '[[part]]\nid = "ot"\n[[part]]\nid = "ot"\n'
    with pytest.raises(TwoPartsOneId, match=r'amp.toml, line 3: a second part with the id "ot"'):
        opened(text)


@pytest.mark.parametrize(
    "form", ["endbell-dossier/2", "endbell-pack/1", "dossier", "endbell-dossier/x", ""]
)
def test_another_form_of_file_is_refused(opened: Opened, form: str) -> None:
    with pytest.raises(UnknownFormat, match="endbell-dossier/1"):
        opened(f'format = "{form}"\n')


def test_a_newer_form_says_that_it_is_newer(opened: Opened) -> None:
    with pytest.raises(UnknownFormat, match="newer"):
        opened('format = "endbell-dossier/2"\n')


def test_a_file_that_is_no_toml_says_where(opened: Opened) -> None:
    with pytest.raises(NotToml, match=r"amp.toml, line 3: .*text = 993-348"):
        opened('id = "x"\n[[mark]]\ntext = 993-348\n')


@pytest.mark.parametrize(
    "hostile",
    [
        "a = " + "[" * 100_000,
        "a = " + "{b=" * 50_000,
        "a." * 100_000 + "a = 1",
        "a = " + "9" * 10_000,
    ],
)
def test_a_file_nested_to_no_end_is_refused(opened: Opened, hostile: str) -> None:
    with pytest.raises(DossierError, match=r"^amp.toml"):
        opened(hostile)


def test_more_marks_than_an_amp_can_bear_are_refused(opened: Opened) -> None:
    with pytest.raises(OutOfBounds, match="5,001"):
        opened("[[mark]]\n" * 5001)


def test_a_day_nobody_can_mean_is_not_taken(opened: Opened) -> None:
    dossier = opened("as_of = 9026-03-02\n")
    assert dossier.as_of == COMMAND_DAY
    assert "9026" in dossier.remarks[0].found


def test_tables_of_the_wrong_shape_are_reported(opened: Opened) -> None:
    dossier = opened('claim = 3\nknown = "x"\nmark = [1, "two"]\n[part]\nid = "ot"\n')
    assert [problem.header for problem in dossier.problems] == [
        "part",
        "mark",
        "mark",
        "claim",
        "known",
    ]


def test_inline_tables_have_a_number_and_no_line(opened: Opened) -> None:
    dossier = opened('mark = [{part = "tot", kind = "serial", text = "1"}]\n')
    (problem,) = dossier.problems
    assert (problem.table, problem.line) == (1, None)


def test_a_header_quoted_in_a_label_is_not_counted(opened: Opened) -> None:
    text = '[[mark]]\npart = "label"\nkind = "label-text"\ntext = """\n[[mark]]\n"""\n# [[mark]]\n[[mark]]\npart = "tot"\nkind = "serial"\n'
    (problem,) = opened(text).problems
    assert problem.line == 8


def test_a_pack_there_is_not_is_reported_and_the_rest_is_read() -> None:
    def of_shelf(packs: tuple[str, ...]) -> Reference:
        return load_reference(packs)[0]

    dossier: Dossier = parse_dossier(
        'packs = ["brackwatr", "brackwater"]\n', of_shelf, today=COMMAND_DAY, file="a"
    )
    assert dossier.packs == ("brackwater",)
    assert dossier.problems[0].nearest == ("brackwater",)


def test_part_rows_are_checked_against_the_packs(opened: Opened) -> None:
    text = """
[[part]]
id = "second-ot"
class = "output-transformer"
[[part]]
id = "wheel"
class = "wheels"
[[part]]
id = "thing"
[[part]]
id = "pot-9"
assembly = "chasis"
"""
    dossier = opened(text)
    assert [(part.id, part.assembly) for part in dossier.parts] == [("second-ot", "chassis")]
    assert [problem.line for problem in dossier.problems] == [5, 8, 10]
    assert dossier.problems[2].nearest == ("chassis",)


def test_files_that_cannot_be_read_say_why(tmp_path: Path, reference: Reference) -> None:
    def load(path: Path) -> Dossier:
        return load_dossier(path, lambda packs: reference, today=COMMAND_DAY)

    with pytest.raises(UnreadableFile, match="there is no such file"):
        load(tmp_path / "none.toml")
    with pytest.raises(UnreadableFile, match="is a folder"):
        load(tmp_path)
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * (MAX_BYTES + 1))
    with pytest.raises(UnreadableFile, match="larger than 5 MB"):
        load(large)
    latin = tmp_path / "latin.toml"
    latin.write_bytes('id = "x"\n# 3½ W\n'.encode("latin-1"))
    with pytest.raises(UnreadableFile, match=r"latin.toml, line 2: is not UTF-8"):
        load(latin)
    wide = tmp_path / "wide.toml"
    wide.write_bytes('id = "x"\n'.encode("utf-16"))
    with pytest.raises(UnreadableFile, match="UTF-8"):
        load(wide)


def test_a_file_saved_with_a_byte_order_mark_or_other_line_ends_is_read(
    tmp_path: Path, reference: Reference
) -> None:
    file = tmp_path / "amp.toml"
    file.write_bytes(b"\xef\xbb\xbf" + WHOLE.replace("\n", "\r\n").encode())
    dossier = load_dossier(file, lambda packs: reference, today=COMMAND_DAY)
    assert [mark.line for mark in dossier.marks] == [30, 41, 47, 55]


def test_an_amp_without_a_number_goes_by_its_file(tmp_path: Path, reference: Reference) -> None:
    file = tmp_path / "TRV-9.toml"
    file.write_text("")
    assert load_dossier(file, lambda packs: reference, today=COMMAND_DAY).id == "TRV-9"
