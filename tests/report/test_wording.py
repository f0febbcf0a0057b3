"""The headline is never stronger than the distribution behind it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from endbell.report.wording import beside, headline, origin_words, pieces

from .cases import (
    nothing_known,
    single_year,
    swapped_loudspeaker,
    two_decades,
)
from .making import Case, build_date, bumps


def headline_of(*peaks: tuple[int, int, float, float]) -> str:
    case = single_year()
    verdict = replace(case.verdict, build=build_date(bumps(*peaks)))
    return headline(verdict, case.reference).text


def test_one_year_is_said_in_months() -> None:
    case = single_year()
    assert headline(case.verdict, case.reference).text == "Built January to August 1964"


def test_two_decades_are_both_said() -> None:
    case = two_decades()
    said = headline(case.verdict, case.reference)
    assert said.text == "Cannot tell: 1957–58 or 1967–68"
    assert said.sure == "open"
    assert "54%" in beside(case.verdict)
    assert "41%" in beside(case.verdict)


def test_a_likely_decade_is_called_probable_and_the_other_one_named() -> None:
    assert headline_of((1957, 26, 5, 0.1), (1967, 26, 5, 0.9)) == (
        "Probably April to September 1967, or else 1957"
    )


def test_a_decade_below_the_table_of_words_is_not_called_probable() -> None:
    assert headline_of((1957, 26, 5, 0.3), (1967, 26, 5, 0.7)) == "Cannot tell: 1957 or 1967"


def test_a_stretch_of_many_years_is_not_called_a_date() -> None:
    assert headline_of((1958, 1, 150, 1.0)).startswith("Cannot tell closer than 19")


def test_nothing_known_is_said_as_such() -> None:
    case = nothing_known()
    assert headline(case.verdict, case.reference).text == "Cannot tell closer than 1944–79"


def test_without_the_packs_words_nothing_is_called_probable() -> None:
    case = single_year()
    build = build_date(bumps((1957, 26, 5, 0.1), (1967, 26, 5, 0.9)))
    assert headline(replace(case.verdict, build=build), None).sure == "open"


def test_no_headline_says_a_number_of_years_that_the_set_does_not_hold(any_case: Case) -> None:
    found = pieces(any_case.verdict)
    assert abs(sum(p.mass for p in found) - 0.95) < 0.02
    assert all(a.last < b.first for a, b in pairwise(found))


def test_a_replaced_part_is_said_with_the_odds_of_its_replacement() -> None:
    parts = {p.part: p for p in swapped_loudspeaker().verdict.parts}
    assert origin_words(parts["sp-1"]) == "replaced, over 99.9%"
    assert origin_words(parts["ot"]) == "original, 98%"
    assert origin_words(parts["covering"]) == "cannot tell, original 60%"
