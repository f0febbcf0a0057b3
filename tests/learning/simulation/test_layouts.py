"""Which codes fit a text with unclear characters, and how well: counted by hand."""

from __future__ import annotations

import pytest

from endbell.learning.simulation.dice import Dice
from endbell.learning.simulation.layout import Ends, Fit, Grammar, fits_of, layout
from endbell.learning.simulation.texts import Eye, joined, year_seen
from endbell.reference import Reference

GRAMMAR = Grammar(((2, 1), (3, 1), (3, 2), (4, 1), (4, 2)), stray=0.05, ratio=0.5)
NEITHER = (False, False)


def found(ends: Ends) -> dict[tuple[int, int], float]:
    out: dict[tuple[int, int], float] = {}
    for fit in fits_of(ends, GRAMMAR):
        out[fit.shape] = out.get(fit.shape, 0.0) + fit.weight
    return out


def test_six_digits_are_one_shape_and_seven_are_two() -> None:
    assert found(Ends(6, NEITHER, NEITHER, ())) == {(3, 1): 1.0}
    assert found(Ends(7, NEITHER, NEITHER, ())) == {(3, 2): 1.0, (4, 1): 1.0}


def test_a_separator_ends_a_group() -> None:
    assert found(Ends(7, NEITHER, NEITHER, (3,))) == {(3, 2): 1.0}
    assert found(Ends(7, NEITHER, NEITHER, (4,))) == {(4, 1): 1.0}


def test_an_unread_end_is_no_character_of_the_code_one_time_in_twenty() -> None:
    assert found(Ends(7, (True, False), NEITHER, ())) == {
        (3, 1): pytest.approx(0.05),
        (3, 2): pytest.approx(0.95),
        (4, 1): pytest.approx(0.95),
    }


def test_lost_characters_are_geometric() -> None:
    assert found(Ends(4, NEITHER, (True, False), ())) == {
        (2, 1): 0.5,
        (3, 1): 0.25,
        (3, 2): 0.125,
        (4, 1): 0.125,
        (4, 2): 0.0625,
    }


def test_a_separator_beside_lost_characters_ends_their_group() -> None:
    fits = fits_of(Ends(3, NEITHER, (True, False), (0,)), GRAMMAR)
    assert {f.shape for f in fits} == {(2, 1), (3, 1), (4, 1)}
    assert all(f.offset == f.shape[0] for f in fits)


def test_a_code_is_put_into_its_layout(brackwater: Reference) -> None:
    eye, dice = Eye(brackwater.tables), Dice(1, 1)
    made = layout(dice, (3, 1), GRAMMAR, "-", unclear=0.0)
    cells = eye.code(dice, "993348", Fit(1.0, (3, 1), 0), made, "clear")
    assert joined(cells, made).replace("-", "") == "993348"
    assert year_seen(cells, made) == "3"


def test_every_layout_has_a_code_that_fits() -> None:
    dice = Dice(2, 2)
    for _ in range(3000):
        base = dice.one_of(GRAMMAR.shapes)
        made = layout(dice, base, GRAMMAR, "- /", unclear=0.8)
        assert base in {f.shape for f in made.fits}
        assert all(0.0 < f.weight <= 1.0 for f in made.fits)
