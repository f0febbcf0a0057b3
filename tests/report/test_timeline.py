"""The time line says in words whatever it draws."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from endbell.report import strip_svg, timeline_svg
from endbell.report.markup import visible
from endbell.report.timeline import timeline_sheets
from endbell.report.wording import verbatim

from .cases import many_marks, married_cabinet, single_year, swapped_loudspeaker
from .making import Case
from .markup_check import read


def words(svg: str) -> list[str]:
    return read(svg).values("aria-label")


@pytest.mark.parametrize("narrow", [False, True])
def test_the_drawing_is_well_formed_svg(any_case: Case, narrow: bool) -> None:
    svg = timeline_svg(any_case.verdict, any_case.reference, narrow=narrow)
    assert ElementTree.fromstring(svg).tag.endswith("svg")
    assert read(svg).faults == []
    assert ElementTree.fromstring(strip_svg(any_case.verdict)).tag.endswith("svg")


def test_every_mark_has_a_row_named_in_words(any_case: Case) -> None:
    said = words(timeline_svg(any_case.verdict, any_case.reference))
    for m in any_case.verdict.marks:
        name = f"mark {m.mark.n}, {visible(m.mark.part)}, {visible(verbatim(m.mark))}: "
        assert any(name in s for s in said)


def test_a_tick_is_said_with_its_week_and_weight() -> None:
    case = single_year()
    said = words(timeline_svg(case.verdict, case.reference))
    assert "mark 2, pot-1, 992-6405: 1964 week 5, weight over 99.9%" in said
    assert "mark 4, sp-1, 995407: 1954 week 7, weight 5%" in said


def test_everything_that_is_named_can_be_reached_by_keyboard(any_case: Case) -> None:
    for tag, attributes in read(timeline_svg(any_case.verdict, any_case.reference)).elements:
        if attributes.get("role") == "img":
            assert attributes.get("tabindex") == "0"
            assert attributes.get("aria-label")
        if tag == "a":
            assert attributes.get("aria-label")


def test_weight_shows_as_height() -> None:
    case = single_year()
    svg = ElementTree.fromstring(timeline_svg(case.verdict, case.reference))
    heights: dict[str, float] = {}
    for group in svg.iter("{http://www.w3.org/2000/svg}g"):
        label = group.get("aria-label", "")
        if label.startswith("mark 4") and "weight" in label:
            heights[label.rsplit(" ", 1)[1]] = float(group[0].get("height", "0"))
    assert heights["93%"] > 2 * heights["5%"]


def test_a_replaced_loudspeaker_differs_by_shape_and_word() -> None:
    svg = timeline_svg(swapped_loudspeaker().verdict, swapped_loudspeaker().reference)
    assert "replaced, over 99.9%" in read(svg).text
    root = ElementTree.fromstring(svg)
    shapes = {
        group.get("aria-label", "").split(",")[0]: group[0].get("fill")
        for group in root.iter("{http://www.w3.org/2000/svg}g")
        if "weight" in group.get("aria-label", "")
    }
    assert shapes["mark 4"] == "none"
    assert shapes["mark 2"] is None


def test_the_three_sets_are_drawn_and_said() -> None:
    said = words(timeline_svg(single_year().verdict))
    for level in ("50", "80", "95"):
        assert any(s.startswith(f"{level}% set: ") and "1964" in s for s in said)


def test_a_married_cabinet_is_said_at_its_rows() -> None:
    svg = timeline_svg(married_cabinet().verdict, married_cabinet().reference)
    assert "Cabinet (another amp's: 93%)" in read(svg).text


def test_a_feature_shows_when_its_value_was_fitted() -> None:
    case = single_year()
    svg = timeline_svg(case.verdict, case.reference)
    assert "mark 5, covering, grey-tweed: fitted 1959–64" in words(svg)
    assert "fitted 1959–64" in read(svg).text
    assert "fitted" not in read(timeline_svg(case.verdict)).text


def test_a_long_time_line_goes_over_several_sheets_and_loses_no_row() -> None:
    case = many_marks()
    sheets = timeline_sheets(case.verdict, case.reference)
    assert len(sheets) == 2
    heights = [float(read(s).values("viewbox")[0].split()[3]) for s in sheets]
    assert max(heights) <= 1400
    said = [s for sheet in sheets for s in words(sheet) if s.startswith("mark ") and "weight" in s]
    assert len(said) == 30
    assert "Chassis, continued" in read(sheets[1]).text


def test_a_short_time_line_is_one_sheet() -> None:
    assert len(timeline_sheets(single_year().verdict)) == 1


def test_the_chassis_comes_first() -> None:
    text = read(timeline_svg(swapped_loudspeaker().verdict)).text
    assert text.index("Chassis") < text.index("Cabinet") < text.index("Speakers")


def test_the_same_verdict_gives_the_same_bytes(any_case: Case) -> None:
    first = timeline_svg(any_case.verdict, any_case.reference)
    assert first == timeline_svg(any_case.verdict, any_case.reference)


def test_colour_is_black_on_white_where_no_style_sheet_is() -> None:
    svg = timeline_svg(single_year().verdict)
    assert "style" not in {name for _, a in read(svg).elements for name in a}
    assert "<style" not in svg
