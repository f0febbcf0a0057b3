from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.marks.errors import TextError
from endbell.marks.likelihood import digit_vector, likelihoods, weight_below
from endbell.marks.text import cut, fits

from .small import DIGITS, GRAMMAR, TABLES

SEPARATORS = GRAMMAR.separators


def test_a_separator_is_a_break_before_the_next_character() -> None:
    assert cut("992-5738", SEPARATORS).breaks == {3}
    assert cut("992 - 5738", SEPARATORS).breaks == {3}


def test_separators_outside_the_code_are_ignored() -> None:
    assert cut("- 993348.", SEPARATORS).breaks == frozenset()


def test_a_separator_next_to_lost_characters_still_ends_their_group() -> None:
    found = cut("... -348", SEPARATORS)
    assert (found.lost_before, found.breaks) == (True, {0})
    found = cut("993-...", SEPARATORS)
    assert (found.lost_after, found.breaks) == (True, {3})


def test_letters_are_read_in_capitals_and_kept_as_typed() -> None:
    found = cut("ab", SEPARATORS)
    assert [cell.chars for cell in found.cells] == ["A", "B"]
    assert found.text == "ab"


@pytest.mark.parametrize(
    ("bracket", "named"),
    [("[38]", "38"), ("[3-6]", "3456"), ("[83]", "38"), ("[^0-7]A", "89"), ("[oO]", "O")],
)
def test_a_bracket_names_the_characters_it_may_be(bracket: str, named: str) -> None:
    cell = cut(bracket, SEPARATORS).cells[0]
    assert cell.kind == "choice"
    assert [c for c in cell.chars if c in DIGITS + "O"][: len(named)] == list(named)


@pytest.mark.parametrize("text", ["[38", "38]", "[]", "[?]", "99...48", "[8-3]", "[^]", "9…9"])
def test_a_text_that_is_not_written_in_the_usual_way_is_refused(text: str) -> None:
    with pytest.raises(TextError, match="accepted"):
        cut(text, SEPARATORS)


def test_a_choice_leaves_a_little_to_the_digits_it_does_not_name() -> None:
    vector = digit_vector(cut("[38]", SEPARATORS).cells[0], "clear", TABLES)
    assert vector[3] == vector[8] == pytest.approx(0.49)
    assert vector[0] == pytest.approx(0.02 / 8)
    assert sum(vector) == pytest.approx(1.0)


def test_a_worn_digit_goes_through_the_column_of_its_matrix() -> None:
    vector = digit_vector(cut("3", SEPARATORS).cells[0], "worn", TABLES)
    rows = TABLES.digits["worn"].rows
    assert vector == tuple(rows[true][3] for true in range(10))
    assert vector[8] > vector[1]


def test_an_unreadable_character_says_the_same_for_all() -> None:
    cell = cut("?", SEPARATORS).cells[0]
    assert set(digit_vector(cell, "poor", TABLES)) == {1.0}
    assert set(likelihoods(cell, "KLMN", "clear", TABLES)) == {1.0}


def test_an_unreadable_end_may_be_no_character_of_the_code() -> None:
    found = cut("?993348", SEPARATORS)
    assert [fit.weight for fit in fits(found, 6, GRAMMAR)] == [pytest.approx(0.1)]
    assert [fit.weight for fit in fits(found, 7, GRAMMAR)] == [pytest.approx(0.9)]


def test_lost_characters_are_at_least_one_and_ever_rarer() -> None:
    found = cut("...348", SEPARATORS)
    weights = [sum(fit.weight for fit in fits(found, n, GRAMMAR)) for n in (3, 4, 5, 6)]
    assert weights == [0.0, 0.5, 0.25, 0.125]


def test_lost_ends_on_both_sides_share_what_is_missing() -> None:
    found = cut("...33...", SEPARATORS)
    assert [(fit.offset, fit.weight) for fit in fits(found, 5, GRAMMAR)] == [
        (1, pytest.approx(0.5 * 0.25)),
        (2, pytest.approx(0.25 * 0.5)),
    ]


vectors = st.lists(
    st.lists(st.sampled_from([0.0, 0.25, 1.0]), min_size=10, max_size=10).map(tuple),
    min_size=1,
    max_size=3,
)


@given(vectors, st.integers(-2, 1100))
def test_the_weight_of_smaller_numbers_equals_the_plain_sum(
    digits: list[tuple[float, ...]], number: int
) -> None:
    slow = 0.0
    for value in range(min(max(number, 0), 10 ** len(digits))):
        p = 1.0
        for vector, digit in zip(digits, f"{value:0{len(digits)}d}", strict=True):
            p *= vector[int(digit)]
        slow += p
    assert weight_below(digits, number) == pytest.approx(slow)
