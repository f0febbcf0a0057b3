"""What is printed on a part reads back, whichever way round it was taken down."""

from __future__ import annotations

from math import log10, nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from endbell.bench.components import (
    bands_of,
    is_preferred,
    nearest,
    numbers,
    ohm_code,
    read_bands,
    read_body_end_dot,
    read_farad,
    read_ohm,
)
from endbell.bench.components.colours import preferred_note, tolerance_note
from endbell.bench.components.e_series import SERIES, neighbours

SERIES_USED = st.sampled_from(
    [("E12", 0.1, 2), ("E24", 0.05, 2), ("E96", 0.01, 3), ("E48", 0.02, 3)]
)
DECADE = st.integers(0, 4)


@settings(max_examples=60)
@given(SERIES_USED, st.data(), DECADE)
def test_every_preferred_value_is_read_back_from_its_bands(
    series: tuple[str, float, int], data: st.DataObject, decade: int
) -> None:
    name, tolerance, digits = series
    ohm = float(f"{data.draw(st.sampled_from(numbers(name)))}e{decade}")
    bands = bands_of(ohm, tolerance, digits)
    found = read_bands(bands)
    assert (ohm, tolerance) in [(one.ohm, one.tolerance) for one in found if not one.turned]
    turned = read_bands(bands[::-1])
    assert (ohm, tolerance) in [(one.ohm, one.tolerance) for one in turned if one.turned]
    assert sum(one.weight for one in found) == pytest.approx(1.0)


@settings(max_examples=40)
@given(st.sampled_from(numbers("E24")), DECADE)
def test_gold_and_silver_end_a_resistor_and_settle_which_way_round(
    number: int, decade: int
) -> None:
    ohm = float(f"{number}e{decade}")
    bands = bands_of(ohm, 0.05)
    assert {one.turned for one in read_bands(bands)} == {False}
    assert {one.turned for one in read_bands(bands[::-1])} == {True}
    assert read_bands(bands[::-1])[0].ohm == ohm


def test_a_close_resistor_can_read_both_ways_and_says_so() -> None:
    found = read_bands(["brown", "black", "black", "red", "brown"])
    assert [(one.ohm, one.turned) for one in found] == [(10e3, False), (120.0, True)]
    assert found[0].weight > found[1].weight > 0.1


def test_the_preferred_way_round_wins_over_the_one_taken_down() -> None:
    # as taken down it would be 1.14 Gohm of 0.05 %
    best = read_bands(["brown", "brown", "yellow", "violet", "orange"])[0]
    assert (best.ohm, best.tolerance, best.turned) == (3.74e3, 0.01, True)


def test_a_worn_band_keeps_what_it_may_have_been() -> None:
    found = read_bands(["yellow", "violet", "orange?", "silver"])
    assert found[0].ohm == 47e3
    assert {4.7e3, 470e3} <= {one.ohm for one in found}  # red, yellow
    assert found[0].weight > 0.4 and sum(one.weight for one in found) == pytest.approx(1.0)


def test_a_worn_digit_is_more_likely_preferred() -> None:
    # brown worn to look red: 22 is preferred and 21 is not
    found = read_bands(["red", "brown?", "red", "silver"])
    assert found[0].ohm == 2.2e3


def test_a_band_that_cannot_be_made_out_leaves_every_decade() -> None:
    found = read_bands(["yellow", "violet", "?", "gold"])
    assert {4.7e3, 47e3, 470e3} <= {one.ohm for one in found}
    assert all(one.weight <= found[0].weight for one in found)


def test_one_of_two_colours_is_both() -> None:
    assert {one.ohm for one in read_bands(["yellow", "violet", "red|orange", "gold"])} == {
        4.7e3,
        47e3,
    }


def test_names_of_colours_as_people_write_them() -> None:
    assert read_bands(["Gray", "RD", "purple", "Gold"])[0].ohm == pytest.approx(820e6)
    assert read_bands([" YE ", "vt", "rd", "gd"])[0].ohm == 4.7e3


@pytest.mark.parametrize(
    ("bands", "words"),
    [
        (["mauve", "red", "red"], "no colour"),
        (["red", "red"], "three to six"),
        ([], "three to six"),
        (["red"] * 7, "three to six"),
        (["?", "?", "?", "?"], "at most two"),
        (["gold", "silver", "gold", "silver"], "fit no resistor"),
        (["black", "red", "red", "black"], "fit no resistor"),
        ([""], "no colour"),
    ],
)
def test_bands_that_are_none_are_refused_with_what_would_do(bands: list[str], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        read_bands(bands)


def test_what_has_no_bands_is_refused() -> None:
    for ohm, tolerance, digits in (
        (0.0, 0.05, 2),
        (-1.0, 0.05, 2),
        (nan, 0.05, 2),
        (123.0, 0.05, 2),
        (1e12, 0.05, 2),
        (100.0, 0.07, 2),
        (100.0, 0.05, 4),
    ):
        with pytest.raises(ValueError, match=r"ohm|tolerance|digits"):
            bands_of(ohm, tolerance, digits)


def test_twenty_percent_has_three_bands() -> None:
    assert bands_of(47e3, 0.2) == ("yellow", "violet", "orange")


def test_old_round_values_are_said_to_be_in_no_series() -> None:
    found = read_bands(["green", "black", "yellow", "silver"])[0]
    assert found.ohm == 500e3 and found.series == ""
    assert "no series" in preferred_note(found)
    assert "preferred in E12" in preferred_note(
        read_bands(["yellow", "violet", "red", "silver"])[0]
    )


def test_editions_differ_on_grey() -> None:
    assert "2016" in tolerance_note("grey") and tolerance_note("gold") == ""


def test_a_body_that_is_no_colour_is_refused() -> None:
    with pytest.raises(ValueError, match="fit no resistor"):
        read_body_end_dot("gold", "red", "red")


# ---- letters


@given(st.integers(1, 999), st.integers(-2, 6))
def test_a_printed_value_reads_back(number: int, power: int) -> None:
    ohm = float(f"{number}e{power}")
    assert read_ohm(ohm_code(ohm)).value == pytest.approx(ohm, rel=1e-9)


@pytest.mark.parametrize(
    "text", ["", "R", "47", "4K7X", "K", "4K7K7", "-4K7", "4,7k", "ohm", "4m7"]
)
def test_what_is_no_resistance_code_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(ValueError, match=r"such as|megohms|tolerance letter"):
        read_ohm(text)


@pytest.mark.parametrize("text", ["", "p", "47", "4K7", "12345", "473Q", "-4n7"])
def test_what_is_no_capacitance_code_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(ValueError, match=r"such as|tolerance letter"):
        read_farad(text)


@pytest.mark.parametrize("bad", [0.0, -4.7, nan])
def test_no_code_for_no_value(bad: float) -> None:
    with pytest.raises(ValueError, match="needed"):
        ohm_code(bad)


# ---- preferred values


@given(st.floats(1e-3, 1e9), st.sampled_from(SERIES))
def test_the_nearest_preferred_value_is_one_of_its_neighbours(value: float, series: str) -> None:
    low, high = neighbours(value, series)
    best = nearest(value, series)
    assert best in (low, high) and low <= value * (1 + 1e-9) and value <= high * (1 + 1e-9)
    assert is_preferred(best, series)
    assert abs(log10(best / value)) <= abs(log10(low / value)) + 1e-12
    assert abs(log10(best / value)) <= abs(log10(high / value)) + 1e-12


@given(st.sampled_from(SERIES), st.data(), st.integers(-6, 8))
def test_a_preferred_value_is_its_own_nearest(
    series: str, data: st.DataObject, decade: int
) -> None:
    value = float(f"{data.draw(st.sampled_from(numbers(series)))}e{decade}")
    assert nearest(value, series) == value
    assert neighbours(value, series) == (value, value)


def test_a_series_that_does_not_exist() -> None:
    with pytest.raises(ValueError, match="no series 'E13'"):
        numbers("E13")
    with pytest.raises(ValueError, match="needed"):
        nearest(-1.0, "E12")
