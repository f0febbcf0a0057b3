"""Whatever was typed is shown, and only shown."""

from __future__ import annotations

from unicodedata import category

from hypothesis import given
from hypothesis import strategies as st

from endbell.report.cells import cut, padded, width_of, wrapped
from endbell.report.markup import Safe, el, join, visible

from .markup_check import read

TEXT = st.text(st.characters(exclude_categories=()), max_size=60)


@given(TEXT)
def test_a_text_comes_out_of_the_markup_as_it_is_shown(typed: str) -> None:
    found = read(el("p", visible(typed), title=visible(typed)))
    assert found.faults == []
    assert found.text == visible(typed)
    assert found.values("title") == [visible(typed)]
    assert [tag for tag, _ in found.elements] == ["p"]


@given(TEXT)
def test_nothing_but_printable_characters_and_spaces_is_shown(typed: str) -> None:
    assert all(c.isprintable() or category(c) == "Zs" for c in visible(typed))


@given(st.text("0123456789-?[]. ABCabcäßé", max_size=30))
def test_an_ordinary_text_is_shown_unchanged(typed: str) -> None:
    assert visible(typed) == typed


def test_only_markup_made_here_is_kept() -> None:
    assert join("<b>", Safe("<b>")) == "&lt;b&gt;<b>"


@given(TEXT, st.integers(1, 40))
def test_a_cut_text_fits(typed: str, width: int) -> None:
    shown = visible(typed)
    assert width_of(cut(shown, width)) <= width
    assert width_of(padded(shown, width)) == width


@given(TEXT, st.integers(2, 40))
def test_wrapping_loses_nothing_but_blanks(typed: str, width: int) -> None:
    shown = visible(typed)
    lines = wrapped(shown, width)
    assert "".join("".join(lines).split()) == "".join(shown.split())
    assert all(width_of(line) <= width for line in lines)
