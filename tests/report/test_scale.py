"""The axis shows the years that matter, and says where it is broken."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from endbell.chronology.verdict import Verdict
from endbell.report.numbers import index_of
from endbell.report.rows import mark_row
from endbell.report.scale import MATTERS, Scale, fit, interesting, joined, labelled_years

from .cases import single_year, swapped_loudspeaker, two_decades
from .making import Case


def scale_of(verdict: Verdict, most: int = 5) -> Scale:
    return fit(verdict, x0=100, x1=600, gap=20, least=40, most=most)


def test_an_axis_of_two_decades_has_a_break_between_them() -> None:
    spans = [(s.first_year, s.last_year) for s in scale_of(two_decades().verdict).segments]
    assert spans == [(1957, 1958), (1967, 1968)]


def test_a_much_later_loudspeaker_stands_beyond_a_break() -> None:
    spans = [(s.first_year, s.last_year) for s in scale_of(swapped_loudspeaker().verdict).segments]
    assert spans == [(1963, 1964), (1978, 1978)]


def test_the_strip_looks_at_the_build_date_alone() -> None:
    verdict = swapped_loudspeaker().verdict
    assert interesting(verdict, readings=False) == [(1964, 1964)]


def test_every_week_of_the_95_percent_set_is_on_the_axis(any_case: Case) -> None:
    scale = scale_of(any_case.verdict)
    for first, last, _ in any_case.verdict.build.sets["0.95"]:
        a, b = index_of(first), index_of(last)
        drawn = sum(x1 - x0 for x0, x1 in scale.clipped(a, b))
        per_week = [(s.x1 - s.x0) / (s.end - s.first) for s in scale.segments]
        assert drawn >= (b - a + 1) * min(per_week) - 1e-6


def test_every_reading_is_a_tick_or_named_beyond_the_axis(any_case: Case) -> None:
    scale = scale_of(any_case.verdict)
    for mark in any_case.verdict.marks:
        row = mark_row(mark, scale)
        dated = [r for r in mark.readings if r.first or r.last]
        shown = {id(t.reading) for t in row.ticks}
        beyond = [r for r in dated if id(r) not in shown]
        assert bool(beyond) == bool(row.outside)
        assert all(r.p <= MATTERS for r in beyond)


def test_readings_beyond_the_axis_are_named_with_an_arrow() -> None:
    case = single_year()
    row = mark_row(case.verdict.marks[3], scale_of(case.verdict))
    assert row.outside == ("→ 1974 week 7, 2%",)


@given(st.lists(st.tuples(st.integers(1930, 2020), st.integers(0, 9)), min_size=1, max_size=12))
def test_joined_stretches_are_apart_and_lose_no_year(spans: list[tuple[int, int]]) -> None:
    given_spans = [(a, a + n) for a, n in spans]
    out = joined(given_spans, 3)
    years = {y for a, b in out for y in range(a, b + 1)}
    assert all(y in years for a, b in given_spans for y in range(a, b + 1))
    assert all(b[0] - a[1] > 3 for a, b in pairwise(out))


@given(st.integers(1, 6))
def test_no_more_stretches_are_drawn_than_there_is_room_for(most: int) -> None:
    scale = scale_of(swapped_loudspeaker().verdict, most)
    assert len(scale.segments) <= most
    ends = [x for s in scale.segments for x in (s.x0, s.x1)]
    assert ends == sorted(ends)
    assert abs(ends[-1] - 600) < 1e-6
    assert all(labelled_years(s, 40) for s in scale.segments)
