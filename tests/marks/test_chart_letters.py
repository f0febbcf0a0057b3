from __future__ import annotations

from datetime import date

import pytest

from endbell.marks import Seen, read_mark

from .conftest import Read, Refused
from .small import TABLES

KIND = "chart-letters"


def by_scheme(text: str, scheme: str, legibility: str = "clear") -> dict[str, float]:
    reading = read_mark(Seen(KIND, text, legibility, schemes=(scheme,)), TABLES)
    assert reading.misfit is None
    return {r.label: r.p for r in reading.readings}


def test_a_is_january_and_c_is_1953_where_no_letter_is_skipped() -> None:
    assert by_scheme("CA", "common-practice") == {"1953-01": 1.0}
    assert by_scheme("NL", "common-practice") == {"1964-12": 1.0}


def test_a_scheme_may_put_the_month_first() -> None:
    assert by_scheme("AK", "brackwater") == {"1956-01": 1.0}
    assert by_scheme("ak", "brackwater") == {"1956-01": 1.0}


def test_without_a_scheme_named_all_are_tried(read: Read) -> None:
    reading = read(KIND, "AL")  # A = 1951, L = December; or A = January, L = 1957
    found = {r.facts[0][1]: (r.label, r.p) for r in reading.readings}
    assert found["common-practice"][0] == "1951-12"
    assert found["brackwater"][0] == "1957-01"
    # the scheme with fewer codes says each of them more often
    assert found["brackwater"][1] > found["common-practice"][1]
    assert reading.scheme == (date(1951, 1, 1), date(1964, 12, 31))


def test_an_unreadable_letter_leaves_its_whole_row() -> None:
    assert len(by_scheme("C?", "common-practice")) == 12
    assert len(by_scheme("?A", "common-practice")) == 14
    assert by_scheme("C...", "common-practice") == by_scheme("C?", "common-practice")


def test_worn_letters_go_through_their_matrix() -> None:
    found = by_scheme("CE", "common-practice", "worn")
    assert max(found, key=lambda label: found[label]) == "1953-05"
    assert found["1953-06"] > found["1953-04"]  # E and F are twins


def test_a_letter_outside_the_scheme_is_a_misfit_that_names_the_letters_in_order(
    refused: Refused,
) -> None:
    problem = refused(KIND, "ZA")
    assert problem.found == "'Z' is no month or year letter of the scheme"
    assert "A B C D E F G H I J K L M N" in problem.accepted
    assert "AA" in problem.nearest


@pytest.mark.parametrize("text", ["A", "ABC", "C1", "19", "--"])
def test_anything_but_two_letters_is_a_misfit(refused: Refused, text: str) -> None:
    assert refused(KIND, text).accepted.startswith("two letters")


def test_a_figure_one_is_offered_as_the_letter_it_looks_like(refused: Refused) -> None:
    assert refused(KIND, "C1").nearest[0] == "CI"


def test_a_maker_without_a_scheme_says_so() -> None:
    reading = read_mark(Seen(KIND, "CA", schemes=("another",)), TABLES)
    assert reading.misfit is not None
    assert "no chart letters known" in reading.misfit.found
