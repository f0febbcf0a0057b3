"""Numbers are never said more surely than they are."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.report.numbers import bits, index_of, percent, span_words, week_words

RUNG = {"over 99.9%": (0.9995, 1.0), "under 0.1%": (0.0, 0.001)}


@pytest.mark.parametrize(
    ("p", "said"),
    [
        (1.0, "over 99.9%"),
        (0.9996, "over 99.9%"),
        (0.9994, "99.9%"),
        (0.999, "99.9%"),
        (0.9962, "99.6%"),
        (0.99, "99.0%"),
        (0.971, "97%"),
        (0.5, "50%"),
        (0.0123, "1.2%"),
        (0.002, "0.2%"),
        (0.001, "0.1%"),
        (0.0002, "under 0.1%"),
        (0.0, "under 0.1%"),
        (None, "not known"),
        (float("nan"), "not known"),
    ],
)
def test_a_percentage_never_claims_certainty(p: float | None, said: str) -> None:
    assert percent(p) == said


@given(st.floats(0, 1))
def test_no_probability_is_said_as_none_or_all(p: float) -> None:
    assert percent(p) not in ("0%", "100%", "0.0%", "100.0%")


@given(st.floats(0, 1))
def test_what_is_said_is_within_half_a_step_of_the_number(p: float) -> None:
    said = percent(p)
    if said in RUNG:
        low, high = RUNG[said]
        assert low <= p <= high
    else:
        step = 0.001 if "." in said else 0.01
        assert abs(float(said[:-1]) / 100 - p) <= step / 2 + 1e-12


@given(st.floats(0, 1), st.floats(0, 1))
def test_the_larger_probability_is_never_said_as_the_smaller(p: float, q: float) -> None:
    def value(x: float) -> float:
        return sum(RUNG[percent(x)]) / 2 if percent(x) in RUNG else float(percent(x)[:-1]) / 100

    low, high = sorted((p, q))
    assert value(low) <= value(high)


def test_information_is_said_with_the_digits_that_matter() -> None:
    assert [bits(x) for x in (3.14, 0.25, 0.034, 0.004)] == [
        "3.1 bits",
        "0.2 bits",
        "0.03 bits",
        "under 0.01 bits",
    ]


def test_a_week_is_said_as_year_and_week_and_a_run_in_months() -> None:
    assert week_words("1964-W05") == "1964 week 5"
    assert span_words(index_of("1964-W06"), index_of("1964-W32")) == "February to August 1964"


def test_a_text_that_is_no_week_is_refused() -> None:
    with pytest.raises(ValueError, match="not an ISO week"):
        index_of("1964-05")
