"""What a mark means, said while it is typed: the trade's words, no more than the packs know."""

from __future__ import annotations

from typing import Any

import pytest

from endbell.dossier.types import Mark
from endbell.reference import load_reference
from endbell.reference.types import ExpectedPart
from endbell.report.amp_looks import Look, looks_of
from endbell.report.amp_parts import model_of
from endbell.web.meaning import Meaning, meaning
from endbell.web.pads import pad_of
from endbell.web.typed_mark import NotTyped, Sent, check_row, figure, row_of

REFERENCE, _ = load_reference(("brackwater",))
PLAIN, _ = load_reference(())
REVERB = model_of("lantern-20-reverb", REFERENCE)


def means(
    text: str, part_class: str = "output-transformer", kind: str = "source-date-code", **more: Any
) -> Meaning:
    return meaning(Mark(1, "x", kind, text, **more), part_class, REFERENCE, REVERB)


# ---- codes


def test_a_clear_code_says_years_week_maker_and_when_that_is_expected() -> None:
    found = means("993-348")
    assert found.state == "reads"
    assert found.says == (
        "Means 1953, 1963 or 1973, week 48.",
        "Source 993, Halden Coil, expected here 1953–71.",
        "Of these, 1963 goes with the making of the Lantern 20 Reverb.",
    )
    assert [(p.text, p.group) for p in found.pieces] == [
        ("993", "source"), ("-", ""), ("3", "year"), ("48", "week"),
    ]  # fmt: skip


def test_two_year_digits_leave_one_year() -> None:
    assert means("9936348").says[0] == "Means 1963, week 48."


@pytest.mark.parametrize("text", ["9", "99", "993", "993-", "993-3", "993-34"])
def test_the_beginning_of_a_code_is_no_mistake(text: str) -> None:
    found = means(text)
    assert found.state == "partial"
    assert "so far; a code has 6 or 7" in found.says[0]


def test_the_maker_is_named_before_the_code_is_whole() -> None:
    assert means("993").says[1] == "993: Halden Coil."


def test_a_week_that_no_year_has_is_said_with_the_nearest_codes() -> None:
    found = means("993-354")
    assert found.state == "misfit"
    assert "no week from 01 to 53" in found.found
    assert "993-352" in found.nearest


def test_the_doubtful_character_is_marked_where_it_stands() -> None:
    found = means("993-3?8", legibility="worn")
    assert [p.text for p in found.pieces if p.doubtful and "?" in p.text] == ["?8"]
    assert "week 8, 18, 28, 38 or 48" in found.says[0]


def test_a_supplier_of_other_parts_is_named_and_not_expected_here() -> None:
    said = means("992-348").says[1]
    assert said.startswith("Source 992, Ninefold Controls: not known to have supplied")
    assert means("123-348").says[1] == "Source 123: no pack in force names it."


def test_without_a_maker_nothing_is_expected_of_a_source() -> None:
    found = meaning(Mark(1, "ot", "source-date-code", "123-348"), "output-transformer", PLAIN)
    assert found.says == (
        "Means 1953, 1963 or 1973, week 48.",
        "Source 123: no pack in force names it.",
    )


# ---- other marks


@pytest.mark.parametrize(
    ("mark", "says"),
    [
        (Mark(1, "chart", "chart-letters", "ZM"), "Means June 1967."),
        (Mark(1, "chart", "chart-letters", "Z"), "One letter so far: two make a date."),
        (Mark(1, "chassis", "year-stamp", "5 0364"), "Means 1964."),
        (Mark(1, "chassis", "hand-date", "3/4/64"), "Means 4 March 1964 or 3 April 1964."),
        (Mark(1, "chassis", "serial", "LR 1234"), "Means about April 1963, give or take 13 weeks."),
        (Mark(1, "label", "label-text", "RETMA"), "'RETMA': printed between 1953 and 1957."),
        (Mark(1, "label", "patent-number", "2,123,456"), "Issued in 1938: the label was printed then or later."),
        (Mark(1, "sp-1", "model-designation", "W12C"), "W12C: 12 inch, alnico, power C."),
        (Mark(1, "paper", "document", date="1965-02"), "The amp existed by 28 February 1965."),
        (Mark(1, "knobs", "feature", feature="knob-shape", value="skirted"), "skirted: on the Lantern 20 Reverb 1960–66."),
        (Mark(1, "faceplate", "feature", feature="reverb-controls", result="absent"), "absent: not known on this model; on Lantern 20, Beacon 45 and Wick 6."),
        (Mark(1, "cloth", "measured", quantity="weave-pitch", value=2.3), "Goes with silver thread (2.3 ± 0.06 mm), 1959–64."),
        (Mark(1, "cloth", "measured", quantity="weave-pitch", value=0.09, unit="in"), "2.286 mm."),
    ],
)  # fmt: skip
def test_every_kind_of_mark_is_said_in_words(mark: Mark, says: str) -> None:
    assert meaning(mark, "", REFERENCE, REVERB).says[0] == says


@pytest.mark.parametrize("result", ["illegible", "not-possible", "nothing-found"])
def test_what_could_not_be_typed_is_an_answer_too(result: str) -> None:
    found = means("", result=result)
    assert found.state == "nothing"
    assert found.says


def test_nothing_typed_says_what_belongs_there() -> None:
    assert means("").state == "empty"
    assert "source number" in means("").says[0]


# ---- keys and rows


def look(part: str, part_class: str, look_id: str) -> Look:
    looks = looks_of(ExpectedPart(part, part_class, "chassis"), "lantern-20-reverb", REFERENCE)
    return next(one for one in looks if one.id == look_id)


def test_a_code_is_typed_with_digits_and_a_sign_for_the_unreadable() -> None:
    pad = pad_of(look("ot", "output-transformer", "source-date-code"), REFERENCE, REVERB)
    typed = {key.types for key in pad.keys}
    assert set("0123456789?-") | {"..."} <= typed
    assert {key.does for key in pad.keys} >= {"bracket", "back", "done"}
    assert not any(key.types.isalpha() for key in pad.keys)


def test_letters_are_on_the_pad_only_where_a_scheme_has_them() -> None:
    pad = pad_of(look("chart", "chart", "chart-letters"), REFERENCE, REVERB)
    letters = {key.types for key in pad.keys if key.types.isalpha()}
    assert "Z" in letters
    assert not letters & set("IOQ")  # the scheme does not use them


def test_values_that_this_model_never_had_stand_apart() -> None:
    pad = pad_of(look("faceplate", "faceplate", "feature:reverb-controls"), REFERENCE, REVERB)
    assert {c.value: c.here for c in pad.choices} == {
        "one-knob": True, "two-position-switch": True, "absent": True,
    }  # fmt: skip
    legend = pad_of(look("faceplate", "faceplate", "feature:faceplate-legend"), REFERENCE, REVERB)
    assert [c.value for c in legend.choices if c.here] == ["lantern-reverb", "absent"]


def test_a_reader_of_inches_measures_in_inches() -> None:
    cloth = look("cloth", "cloth", "measured:weave-pitch")
    assert pad_of(cloth, REFERENCE, REVERB).units[0] == "mm"
    assert pad_of(cloth, REFERENCE, REVERB, inches=True).units[0] == "in"


def test_a_row_holds_what_was_typed_and_nothing_that_was_not() -> None:
    code = look("ot", "output-transformer", "source-date-code")
    assert row_of(Sent(text="993-3?8", legibility="worn"), "ot", code) == {
        "part": "ot", "kind": "source-date-code", "text": "993-3?8", "legibility": "worn",
    }  # fmt: skip
    cloth = look("cloth", "cloth", "measured:weave-pitch")
    assert row_of(Sent(value="0.090", unit="in"), "cloth", cloth)["value"] == "0.090"


def test_absent_is_a_result_and_not_a_text() -> None:
    badge = look("badge", "badge", "feature:badge-form")
    row = row_of(Sent(value="absent"), "badge", badge)
    assert row["result"] == "absent"
    assert "value" not in row
    check_row(row)


def test_an_empty_sheet_is_not_recorded() -> None:
    code = look("ot", "output-transformer", "source-date-code")
    with pytest.raises(NotTyped, match="nothing typed yet"):
        check_row(row_of(Sent(), "ot", code))
    check_row(row_of(Sent(result="illegible"), "ot", code))


def test_a_number_keeps_its_last_nought() -> None:
    assert (figure("2.3"), figure("2.30"), figure("some 2")) == (2.3, "2.30", "some 2")
