"""Blank dossiers, marks added with every comment kept, kinds guessed."""

from __future__ import annotations

import tomllib
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.dossier import Mark
from endbell.dossier.editing import add_mark, blank_dossier, mark_lines
from endbell.dossier.errors import DossierError
from endbell.dossier.guess import guess_mark, split_typed
from endbell.marks import MarkReading, Seen, read_mark
from endbell.reference import Reference

from .conftest import Opened


@pytest.fixture
def blank(reference: Reference) -> str:
    """A blank dossier of the model with most parts."""
    model = next(m for m in reference.models if m.id == "lantern-20-reverb")
    return blank_dossier("TRV-1", date(2026, 3, 9), reference, model, ("brackwater",))


def test_a_blank_dossier_says_nothing_yet(blank: str, opened: Opened) -> None:
    dossier = opened(blank)
    assert dossier.marks == dossier.problems == dossier.remarks == ()
    assert (dossier.id, dossier.claim.model) == ("TRV-1", "lantern-20-reverb")


def test_a_blank_dossier_has_a_mark_for_every_part_the_model_should_have(
    blank: str, reference: Reference
) -> None:
    model = next(m for m in reference.models if m.id == "lantern-20-reverb")
    for part in model.expected:
        assert f'# part = "{part.id}"' in blank


def test_cautions_stand_where_their_step_begins(blank: str, reference: Reference) -> None:
    places = [blank.index(f"# ---- {level}") for level in ("outside", "back-off", "chassis-out")]
    assert places == sorted(places)
    first_code = blank.index('# part = "ot"')
    caution = blank.index("# CAUTION: High voltage")
    assert places[2] < caution < first_code


def test_every_mark_of_a_blank_dossier_is_one_the_loader_knows(blank: str, opened: Opened) -> None:
    filled = blank
    for line in blank.split("\n"):
        if line.startswith("# ") and (" = " in line or line == "# [[mark]]") and "|" not in line:
            bare = line[2:].rstrip()
            bare = (
                "value = 1.0"
                if bare == "value ="
                else "uncertainty = 0.1"
                if bare == "uncertainty ="
                else bare
            )
            if not line.startswith(("# built", "# original", "# except", "# by", "# as_of")):
                filled = filled.replace(line, bare, 1)
    dossier = opened(filled)
    assert len(dossier.marks) > 60
    assert dossier.problems == dossier.remarks == ()


def test_a_mark_is_added_and_every_comment_kept(opened: Opened) -> None:
    before = '# the widow\'s amp\nid = "x"   # ticket 12\n\n[[mark]]  # bell\npart = "ot"\nkind = "source-date-code"\ntext = "993-348"\n# pots still to do'
    mark = Mark(0, "pot-2", "source-date-code", "992-34?", "worn", by="RT", on=date(2026, 3, 9))
    after = add_mark(before, mark)
    assert after.startswith(before)
    marks = opened(after).marks
    assert [m.text for m in marks] == ["993-348", "992-34?"]
    assert (marks[1].legibility, marks[1].by, marks[1].on) == ("worn", "RT", date(2026, 3, 9))


def test_line_ends_of_the_file_are_kept() -> None:
    after = add_mark('id = "x"\r\n', Mark(0, "ot", "serial", "1"))
    assert "\n" not in after.replace("\r\n", "")


def test_a_mark_is_added_to_an_inline_array(opened: Opened) -> None:
    before = '# one line\nmark = [{part = "ot", kind = "serial", text = "1"}]\n'
    after = add_mark(before, Mark(0, "pt", "serial", "2"))
    assert "# one line" in after
    assert [m.text for m in opened(after).marks] == ["1", "2"]


def test_a_broken_file_is_not_added_to() -> None:
    with pytest.raises(DossierError):
        add_mark('id = "x', Mark(0, "ot", "serial", "1"))


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=60))
def test_whatever_is_typed_comes_back_as_typed(text: str) -> None:
    lines = mark_lines(
        Mark(0, "ot", "label-text", text, note="n" + text, value=text, photos=(text,))
    )
    table = tomllib.loads("\n".join(lines))["mark"][0]
    assert table.get("text", "") == text
    assert table["note"] == "n" + text
    assert table["photos"] == [text]


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_figure_comes_back_as_typed(value: float) -> None:
    lines = mark_lines(Mark(0, "cloth", "measured", value=value))
    assert float(tomllib.loads("\n".join(lines))["mark"][0]["value"]) == value


@pytest.mark.parametrize(
    ("part", "text", "kind"),
    [
        ("ot", "993-348", "source-date-code"),
        ("pot-1", "992-3?4", "source-date-code"),
        ("sp-1", "W12E", "model-designation"),
        ("sp-1", "995-402", "source-date-code"),
        ("elco-1", "6412", "date-code"),
        ("chart", "WF", "chart-letters"),
        ("chassis", "5 0364", "year-stamp"),
        ("chassis", "LR 1731", "serial"),
        ("cab", "Mar 14 '66", "hand-date"),
        ("ot", "joint-untouched", "condition"),
        ("covering", "covering-colour=grey-tweed", "feature"),
        ("cloth", "weave-pitch=2.31mm", "measured"),
        ("paper", "1965-02-14", "document"),
        ("label", "Pat. 2,613,753", "patent-number"),
        ("label", "Impedance = 8 ohms", "label-text"),
        ("covering", "covering-color=grey-tweed", "feature"),
        ("cloth", "weave-pitch=" + "9" * 400, "measured"),
    ],
)
def test_the_kind_of_a_typed_mark_is_guessed_from_part_and_text(
    reference: Reference, part: str, text: str, kind: str
) -> None:
    def read(seen: Seen) -> MarkReading:
        return read_mark(seen, reference.tables)

    guess = guess_mark(1, part, text, reference, read)
    assert guess.mark.kind == kind
    assert kind in guess.says
    assert guess.part is not None


def test_a_measured_value_keeps_its_unit(reference: Reference) -> None:
    guess = guess_mark(
        1,
        "cloth",
        "weave-pitch = 0.09 in",
        reference,
        lambda seen: read_mark(seen, reference.tables),
    )
    assert (guess.mark.value, guess.mark.unit) == (0.09, "in")


def test_a_text_nothing_fits_still_gets_a_kind_so_that_its_reader_can_say_why(
    reference: Reference,
) -> None:
    guess = guess_mark(
        1, "pot-1", "992-354", reference, lambda seen: read_mark(seen, reference.tables)
    )
    assert guess.mark.kind == "source-date-code"


@pytest.mark.parametrize(
    ("typed", "split"),
    [
        ("ot:993-348", ("ot", "993-348")),
        ("label: a:b", ("label", "a:b")),
        ("ot", None),
        (":x", None),
        ("ot: ", None),
    ],
)
def test_part_and_text_are_told_apart_by_the_first_colon(
    typed: str, split: tuple[str, str] | None
) -> None:
    assert split_typed(typed) == split
