"""``endbell check``."""

from __future__ import annotations

from pathlib import Path

from .conftest import AMP, BAD_ROW, Run, one_sentence


def test_a_good_file_has_nothing_to_say(run: Run, amp: Path) -> None:
    ran = run("check", "amp.toml")
    assert ran.status == 0
    assert "2 of 2 marks can be weighed" in ran.out


def test_every_problem_is_said_with_its_line(run: Run, amp: Path) -> None:
    amp.write_text(
        AMP + BAD_ROW + '\n[[mark]]\npart = "tot"\nkind = "serial"\ntext = "1"\n', encoding="utf-8"
    )
    ran = run("check", "amp.toml")
    assert ran.status == 1
    assert "amp.toml, line 21 (mark 3)" in ran.out
    assert "amp.toml, line 26 (mark 4)" in ran.out
    found = run("check", "amp.toml", "--json").json
    assert [problem["line"] for problem in found["problems"]] == [26, 21]
    assert (found["marks"], found["weighable"]) == (4, 2)


def test_remarks_alone_are_no_failure(run: Run, amp: Path) -> None:
    amp.write_text(AMP.replace("[claim]", "[claim]\ncolour = 3"), encoding="utf-8")
    ran = run("check", "amp.toml", "--json")
    assert ran.status == 0
    assert ran.json["remarks"][0]["line"] == 5


def test_several_files_are_an_array_whatever_becomes_of_one(run: Run, amp: Path) -> None:
    ran = run("check", "amp.toml", "none.toml", "--json")
    assert ran.status == 1
    assert [sorted(entry) for entry in ran.json][1] == ["error", "file"]


def test_nothing_readable_is_not_done(run: Run) -> None:
    ran = run("check", "none.toml", "--json")
    assert (ran.status, ran.out) == (2, "")
    assert one_sentence(ran.err)
