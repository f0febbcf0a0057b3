"""The demonstration dossiers, weighed for real, on the page and in the terminal."""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from importlib import resources
from pathlib import Path

import pytest

from endbell.chronology import weigh
from endbell.dossier import parse_dossier
from endbell.reference import Reference, load_reference
from endbell.report import page, terminal
from endbell.report.cells import width_of
from endbell.report.markup import visible
from endbell.report.wording import verbatim

from .making import Case
from .markup_check import read

PICTURES = Path(__file__).parents[2] / "docs" / "pictures"
NAMES = ("b-one-later-loudspeaker", "c-two-decades-open", "d-married-cabinet", "f-worn-codes")


def reference(packs: tuple[str, ...]) -> Reference:
    return load_reference(packs, ())[0]


@cache
def weighed(name: str) -> Case:
    """A demonstration dossier with its verdict; without next checks, which only take time."""
    file = resources.files("endbell.cli") / "demo_dossiers" / f"{name}.toml"
    dossier = parse_dossier(file.read_text(encoding="utf-8"), reference, today=date(2026, 1, 1))
    known = reference(dossier.packs)
    return Case(weigh(dossier, known, looks=0), known, dossier)


def squeezed(text: str) -> str:
    return "".join(text.split())


@pytest.mark.parametrize("name", NAMES)
def test_a_real_verdict_makes_a_sound_page(name: str) -> None:
    case = weighed(name)
    found = read(page(case.verdict, case.reference, case.dossier))
    assert found.faults == []
    ids = found.values("id")
    assert len(ids) == len(set(ids))
    assert all(href[1:] in ids for href in found.values("href"))
    assert not re.search(r"(?<![\d.])(100|0)%", found.text)
    for m in case.verdict.marks:
        assert visible(verbatim(m.mark)) in found.text
    for sentence in case.verdict.words:
        assert sentence.text in found.text


@pytest.mark.parametrize("name", NAMES)
def test_a_real_verdict_fits_the_terminal(name: str) -> None:
    case = weighed(name)
    said = terminal(case.verdict, case.reference)
    assert max(width_of(line) for line in said.splitlines()) <= 100
    for m in case.verdict.marks:
        assert squeezed(visible(verbatim(m.mark))) in squeezed(said)
    for sentence in case.verdict.words:
        assert squeezed(sentence.text) in squeezed(said)


def test_codes_of_one_digit_leave_both_decades_in_the_headline() -> None:
    case = weighed("c-two-decades-open")
    said = terminal(case.verdict, case.reference).splitlines()[1]
    assert "1954" in said
    assert "1964" in said


def test_a_later_loudspeaker_stands_beyond_a_break_and_is_called_replaced() -> None:
    case = weighed("b-one-later-loudspeaker")
    text = read(page(case.verdict, case.reference, case.dossier)).text
    assert "Built February to April 1964" in text
    assert re.search(r"sp-1: loudspeaker.{0,40}replaced", text)


def test_the_pictures_of_the_documents_are_there_and_ask_for_nothing() -> None:
    drawn = (PICTURES / "verdict-terminal.svg").read_text(encoding="utf-8")
    assert set(re.findall(r"https?://[^\"' )]*", drawn)) <= {"http://www.w3.org/2000/svg"}
    for name in ("verdict-desktop.png", "verdict-phone.png"):
        assert (PICTURES / name).read_bytes().startswith(b"\x89PNG")
