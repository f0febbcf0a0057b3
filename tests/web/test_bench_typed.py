"""What is typed or pasted at the bench, as rows of the sheet."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.bench.kinds import line_kinds
from endbell.bench.lines import Bound, Judgement, Line
from endbell.bench.stages import Stage
from endbell.bench.units import Measure, measure
from endbell.web.bench_typed import MOST_ROWS, UNITS, pasted, reading_row, units_for


def a_line(unit: str, *bounds: Bound, expected: float | None = None) -> Line:
    return Line(
        "x", "X", Stage.SAFETY, unit, None, Judgement.NOT_MEASURED, expected=expected, bounds=bounds
    )


def test_the_unit_begins_as_the_limit_is_told() -> None:
    megohm = Bound(1e6, None, "", "", "published")
    assert units_for(a_line("ohm", megohm))[1] == "Mohm"
    assert units_for(a_line("ohm", Bound(None, 0.1, "", "", "published")))[1] == "mohm"
    assert units_for(a_line("F", expected=22e-9))[1] == "nF"
    assert units_for(a_line("ohm", megohm), last="kohm")[1] == "kohm"


def test_every_unit_that_can_be_chosen_is_one_that_is_read() -> None:
    for kind in line_kinds().values():
        for unit, _ in units_for(a_line(kind.unit))[0]:
            assert isinstance(measure(f"1 {unit}".strip(), kind.unit), Measure), (kind.unit, unit)
    assert set(UNITS) >= {kind.unit for kind in line_kinds().values()}


@pytest.mark.parametrize("typed", ["4k7", "60 mohm", "230mV", "22 °C", "0.022u", "5 %"])
def test_a_unit_that_is_typed_counts(typed: str) -> None:
    assert "unit" not in reading_row("x", "", typed, "kohm")


@pytest.mark.parametrize("typed", ["4.7", "1e3", "> 200", "-3,5", "1.5E-3"])
def test_the_unit_beside_it_counts_where_none_is_typed(typed: str) -> None:
    assert reading_row("x", "", typed, "kohm")["unit"] == "kohm"


def test_columns_are_named_or_stand_in_their_order() -> None:
    plain = pasted("earth-bond,,0.06,ohm\ncord-kind,3")
    named = pasted("unit\tvalue\tline\tat\nohm\t0.06\tearth-bond\t\n\t3\tcord-kind\t")
    assert [p.row for p in plain] == [p.row for p in named]
    assert plain[0].row == {"line": "earth-bond", "value": "0.06", "unit": "ohm"}


def test_a_comma_in_a_figure_is_no_new_cell_between_semicolons() -> None:
    assert pasted("earth-bond;;0,06;ohm")[0].row == {
        "line": "earth-bond",
        "value": "0,06",
        "unit": "ohm",
    }


def test_bad_rows_say_what_would_do() -> None:
    told = [p.trouble for p in pasted("earth-bnd,,1,\nearth-bond,,,\na,b,c,d,e,f\nearth-bond")]
    assert told == [
        'no line is called "earth-bnd"; did you mean earth-bond?',
        "no value; accepted: what the meter shows",
        "6 cells; accepted: line, at, value, unit",
        "1 cells; accepted: line, at, value, unit",
    ]


def test_a_paste_without_end_is_refused_in_a_sentence() -> None:
    with pytest.raises(ValueError, match=f"at most {MOST_ROWS} at a time"):
        pasted("cord-kind,3\n" * (MOST_ROWS + 2))


@given(st.text(alphabet=st.characters(blacklist_categories=("Cs",)), max_size=200))
def test_any_paste_is_answered_row_by_row(text: str) -> None:
    for found in pasted(text):
        assert (found.row is None) == bool(found.trouble)
