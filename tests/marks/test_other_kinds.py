"""Kinds whose reading is one value: designations, features, measures, conditions, documents."""

from __future__ import annotations

from datetime import date

import pytest

from endbell.marks import MarkReading, Seen, read_mark

from .conftest import Read, Refused
from .small import TABLES


def feature(value: str | float | None, name: str | None = "covering-colour") -> MarkReading:
    return read_mark(Seen("feature", feature=name, value=value), TABLES)


def measured(
    value: str | float | None = 2.5,
    unit: str | None = "mm",
    uncertainty: float | None = 0.1,
    quantity: str | None = "weave-pitch",
) -> MarkReading:
    seen = Seen("measured", value=value, unit=unit, uncertainty=uncertainty, quantity=quantity)
    return read_mark(seen, TABLES)


def document(when: str | None) -> MarkReading:
    return read_mark(Seen("document", "shop receipt, no. 4411", date=when), TABLES)


@pytest.mark.parametrize("text", ["W12F", "w12f", "W-12 F"])
def test_a_loudspeaker_name_carries_size_power_and_magnet(read: Read, text: str) -> None:
    reading = read("model-designation", text)
    assert (reading.dating, reading.value) == ("value", "W12F")
    facts = dict(reading.readings[0].facts)
    assert facts["size"] == "12 inch"
    assert facts["power-rank"] == "6"
    assert facts["magnet"] == "alnico"


def test_where_power_falls_along_the_letters_the_first_is_strongest(read: Read) -> None:
    assert dict(read("model-designation", "V30S").readings[0].facts)["power-rank"] == "5"
    assert dict(read("model-designation", "V30W").readings[0].facts)["power-rank"] == "1"


def test_an_unread_letter_that_leaves_one_name_is_no_loss(read: Read) -> None:
    assert read("model-designation", "W1?F").misfit is None
    assert read("model-designation", "W?2F").value == "W12F"


def test_an_unread_letter_that_leaves_several_names_says_nothing_yet(read: Read) -> None:
    reading = read("model-designation", "W12?")
    assert (reading.dating, reading.value) == ("nothing", None)
    assert len(reading.readings) == 6


def test_a_name_outside_the_schemes_is_told_their_letters(refused: Refused) -> None:
    assert "power A B C D E F" in refused("model-designation", "Q12F").accepted
    assert refused("model-designation", "W12[^ab]" * 3).found


def test_a_feature_is_one_of_its_values_in_the_spelling_of_the_pack() -> None:
    assert feature("Grey-Tweed").value == "grey-tweed"
    assert feature("absent").value == "absent"


def test_a_feature_looked_for_and_not_there_is_absent() -> None:
    seen = Seen("feature", feature="covering-colour", result="absent")
    reading = read_mark(seen, TABLES)
    assert (reading.dating, reading.value) == ("value", "absent")


@pytest.mark.parametrize(
    ("value", "name", "accepted"),
    [
        ("red", "covering-colour", "black, grey-tweed, absent"),
        (None, "covering-colour", "black, grey-tweed, absent"),
        (3.5, "covering-colour", "black, grey-tweed, absent"),
        ("black", "covering-color", "covering-colour"),
        ("black", None, "covering-colour"),
    ],
)
def test_an_unknown_feature_or_value_is_told_the_known_ones(
    value: str | float | None, name: str | None, accepted: str
) -> None:
    problem = feature(value, name).misfit
    assert problem is not None
    assert problem.accepted == accepted


def test_a_misspelt_feature_is_offered() -> None:
    problem = feature("black", "covering-color").misfit
    assert problem is not None
    assert problem.nearest == ("covering-colour",)


def test_a_measure_is_converted_once_with_its_uncertainty() -> None:
    reading = measured(0.1, "in", 0.01)
    assert reading.dating == "measured"
    assert reading.number == pytest.approx(2.54)
    assert reading.uncertainty == pytest.approx(0.254)


def test_a_measure_without_unit_is_in_the_unit_of_the_pack() -> None:
    assert measured(2.5, None, None).number == 2.5


@pytest.mark.parametrize(
    "reading",
    [
        measured(unit="kg"),
        measured(float("nan")),
        measured(float("inf")),
        measured("wide"),
        measured(None),
        measured(True),
        measured(uncertainty=-0.1),
        measured(uncertainty=float("inf")),
        measured(quantity="colour"),
        measured(quantity=None),
        measured(1e308, "in"),
    ],
)
def test_a_measure_that_is_no_quantity_is_a_misfit(reading: MarkReading) -> None:
    assert reading.misfit is not None
    assert reading.number is None


@pytest.mark.parametrize("text", ["joint-untouched", "Joint untouched", "JOINT  UNTOUCHED"])
def test_a_condition_is_one_of_the_words_of_the_pack(read: Read, text: str) -> None:
    reading = read("condition", text)
    assert (reading.dating, reading.value) == ("word", "joint-untouched")


def test_a_condition_may_stand_in_value() -> None:
    assert read_mark(Seen("condition", value="dust-shadow"), TABLES).value == "dust-shadow"


def test_an_unknown_condition_is_told_the_words(refused: Refused) -> None:
    problem = refused("condition", "joint-untouchd")
    assert problem.nearest[0] == "joint-untouched"
    assert "dust-shadow" in problem.accepted


def test_a_document_shows_that_the_amp_existed_by_its_last_day() -> None:
    reading = document("1965-02")
    assert reading.dating == "existed"
    assert reading.readings[0].last == date(1965, 2, 28)
    assert document("../1965").readings[0].last == date(1965, 12, 31)


@pytest.mark.parametrize("when", [None, "", "196u", "1965/..", "2016-13-08"])
def test_a_document_without_a_usable_date_is_a_misfit(when: str | None) -> None:
    problem = document(when).misfit
    assert problem is not None
    assert problem.accepted
