"""The terminal says what the page says, within its width."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from endbell.report import terminal, terminal_renderables
from endbell.report.cells import width_of
from endbell.report.markup import visible
from endbell.report.wording import headline, marks_said, verbatim

from .cases import CASES, hostile, not_weighed, single_year, two_decades
from .making import Case

SNAPSHOTS = Path(__file__).parent / "snapshots"


def squeezed(text: str) -> str:
    return "".join(text.split())


@pytest.mark.parametrize("width", [40, 60, 80, 100, 160])
@pytest.mark.parametrize("unicode", [True, False])
def test_no_line_is_wider_than_the_terminal(any_case: Case, width: int, unicode: bool) -> None:
    said = terminal(any_case.verdict, any_case.reference, width=width, unicode=unicode)
    assert max(width_of(line) for line in said.splitlines()) <= width


def test_every_mark_stands_in_the_terminal_as_typed(any_case: Case) -> None:
    said = squeezed(terminal(any_case.verdict, any_case.reference))
    for m in any_case.verdict.marks:
        assert squeezed(visible(verbatim(m.mark))) in said


def test_words_come_first_and_name_their_marks(any_case: Case) -> None:
    said = terminal(any_case.verdict, any_case.reference, width=1000)
    lines = said.splitlines()
    assert lines[1] == headline(any_case.verdict, any_case.reference).text
    for sentence in any_case.verdict.words:
        line = next(i for i in lines if visible(sentence.text) in i)
        assert line.endswith(f"({marks_said(sentence.marks)})")


@pytest.mark.parametrize("name", sorted(CASES))
def test_without_unicode_nothing_but_ascii_is_written(name: str) -> None:
    case = CASES[name]()
    assert terminal(case.verdict, case.reference, unicode=False).isascii()


def test_no_text_can_act_on_the_terminal() -> None:
    case = hostile()
    said = terminal(case.verdict, case.reference)
    assert not [c for c in said if (c < " " and c != "\n") or c == "\u202e"]
    assert "␛[31mred" in said


@pytest.mark.parametrize(
    ("name", "width", "unicode"),
    [
        ("single year", 100, True),
        ("swapped loudspeaker", 80, False),
        ("two decades", 60, True),
        ("not weighed", 100, True),
    ],
)
def test_the_terminal_looks_as_it_did(name: str, width: int, unicode: bool) -> None:
    case = CASES[name]()
    said = terminal(case.verdict, case.reference, width=width, unicode=unicode)
    file = SNAPSHOTS / f"{name.replace(' ', '-')}-{width}{'' if unicode else '-ascii'}.txt"
    assert said == file.read_text(encoding="utf-8")


def test_rich_shows_the_same_words_and_takes_no_text_for_markup(any_case: Case) -> None:
    lines = terminal_renderables(any_case.verdict, any_case.reference)
    plain = terminal(any_case.verdict, any_case.reference)
    assert "".join(f"{line.plain}\n" for line in lines) == plain


def test_a_caution_stands_before_its_step() -> None:
    case = single_year()
    said = terminal(case.verdict, case.reference)
    assert said.index("Lethal voltages") < said.index("Power transformer code (pt)")


def test_rows_not_weighed_are_listed_with_file_line_and_what_would_do() -> None:
    case = not_weighed()
    said = squeezed(terminal(case.verdict, case.reference))
    for words in ("lantern.toml, line 31", "week 54 in '993-354'", "a week from 01 to 53"):
        assert squeezed(words) in said


def test_what_would_change_the_verdict_is_said() -> None:
    case = two_decades()
    assert "replaced.odds × 2: 1957 leaves the 95% set" in terminal(case.verdict, case.reference)


def test_a_terminal_can_do_without_a_reference() -> None:
    assert "Built January to August 1964" in terminal(single_year().verdict)


def test_rich_is_not_loaded_for_a_page() -> None:
    code = "import endbell.report, sys; sys.exit('rich' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
