"""What holds for every kind of mark alike."""

from __future__ import annotations

import doctest
import pkgutil
from dataclasses import replace
from importlib import import_module

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import endbell.marks as marks
from endbell.marks import KINDS, Seen, UnknownKind, read_mark

from .conftest import Read
from .small import TABLES

# what the record of a mark must hold for its kind, beside the text
BESIDE = {
    "feature": Seen("feature", feature="covering-colour", value="black"),
    "measured": Seen("measured", quantity="weave-pitch", value=2.5),
    "condition": Seen("condition", value="dust-shadow"),
    "document": Seen("document", date="1965-02-14"),
}
NEEDS_TEXT = sorted(set(KINDS) - set(BESIDE))

hand_typed = st.text("0123456789ABCDLMNOPRSVWZabcjmr?[]^-./,:' …", max_size=14)
any_text = st.one_of(hand_typed, st.text(max_size=40))


def test_the_kinds_are_those_of_the_contract() -> None:
    assert set(KINDS) == {
        "source-date-code", "date-code", "chart-letters", "year-stamp", "hand-date", "serial",
        "label-text", "patent-number", "model-designation", "feature", "measured", "condition",
        "document",
    }  # fmt: skip
    assert all(KINDS.values())


def test_an_unknown_kind_is_told_the_kinds() -> None:
    with pytest.raises(UnknownKind, match="source-date-code"):
        read_mark(Seen("rune", "993-348"), TABLES)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("result", ["illegible", "not-possible"])
def test_what_cannot_be_read_says_nothing(read: Read, kind: str, result: str) -> None:
    reading = read(kind, "", result=result)
    assert (reading.dating, reading.misfit, reading.readings) == ("nothing", None, ())


@pytest.mark.parametrize("kind", KINDS)
def test_a_look_that_finds_nothing_is_a_finding(read: Read, kind: str) -> None:
    assert read(kind, result="nothing-found").dating == "nothing-found"
    if kind != "feature":
        assert read(kind, result="absent").dating == "nothing-found"


@pytest.mark.parametrize("kind", NEEDS_TEXT)
@pytest.mark.parametrize("text", ["", "   ", "993\u202e348", "99\x00", "9\u200b9", "7" * 2001])
def test_empty_hidden_and_endless_texts_are_misfits(read: Read, kind: str, text: str) -> None:
    reading = read(kind, text)
    assert reading.misfit is not None
    assert reading.text == text


@pytest.mark.parametrize("kind", KINDS)
def test_an_unknown_legibility_or_result_is_a_misfit(read: Read, kind: str) -> None:
    problem = read(kind, "993-348", legibility="faint").misfit
    assert problem is not None
    assert problem.accepted == "clear, worn, poor"
    problem = read(kind, "993-348", result="glimpsed").misfit
    assert problem is not None
    assert "illegible" in problem.accepted


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(sorted(KINDS)), any_text, st.sampled_from(["clear", "worn", "poor"]))
def test_any_text_is_read_or_a_misfit_and_is_kept(kind: str, text: str, legibility: str) -> None:
    seen = replace(BESIDE.get(kind, Seen(kind)), text=text, legibility=legibility)
    reading = read_mark(seen, TABLES)
    assert (reading.kind, reading.text, reading.legibility) == (kind, text, legibility)
    if reading.misfit:
        assert reading.dating == "nothing"
        assert reading.misfit.found
        assert reading.misfit.accepted
        return
    if reading.readings:
        assert sum(r.p for r in reading.readings) == pytest.approx(1.0, abs=1e-6)
        assert all(r.p > 0 for r in reading.readings)
    spans = [span for r in reading.readings for span in r.spans]
    spans += [span for split in reading.splits for span in split.spans]
    spans += [hit.span for hit in reading.terms]
    assert all(0 <= span.start < span.end <= len(text) for span in spans)
    for split in reading.splits:
        assert 0 < split.weight <= 1
        for vector in (*split.source, *split.year, *split.week):
            assert len(vector) == 10
            assert max(vector) > 0


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["source-date-code", "date-code", "year-stamp", "serial"]),
    st.from_regex(r"A?[0-9?]{2,8}", fullmatch=True),
)
def test_whatever_was_offered_as_nearest_reads(kind: str, text: str) -> None:
    problem = read_mark(Seen(kind, text), TABLES).misfit
    for nearest in problem.nearest if problem else ():
        assert read_mark(Seen(kind, nearest), TABLES).misfit is None


@pytest.mark.parametrize("name", [room.name for room in pkgutil.iter_modules(marks.__path__)])
def test_the_examples_in_the_docstrings_run(name: str) -> None:
    assert doctest.testmod(import_module(f"endbell.marks.{name}")).failed == 0
