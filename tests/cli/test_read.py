"""``endbell read``."""

from __future__ import annotations

import pytest

from .conftest import Run, one_sentence


def test_an_unclear_code_shows_every_week_it_can_mean(run: Run) -> None:
    ran = run("read", "993-3?8", "--kind", "source-date-code", "--packs", "brackwater", "--json")
    assert ran.status == 0
    readings = ran.json["readings"]
    assert {r["date"] for r in readings if r["date"].startswith("1963")} == {
        f"1963-W{week}" for week in ("08", "18", "28", "38", "48")
    }
    assert (
        readings == sorted(readings, key=lambda r: -r["p"])
        or readings[-1]["date"] == "other readings"
    )
    assert readings[0]["source"] == "993"
    assert readings[0]["source_name"] == "Halden Coil"
    assert ran.json["other_kinds"] == []


def test_without_a_kind_every_kind_it_fits_is_shown(run: Run) -> None:
    found = run("read", "5 0364", "--json").json
    assert found["kind"] == "year-stamp"
    assert found["readings"][0]["date"] == "1964"
    kinds = [found["kind"], *(other["kind"] for other in found["other_kinds"])]
    assert len(kinds) == len(set(kinds))


def test_the_part_tells_the_kind(run: Run) -> None:
    assert (
        run("read", "WF", "--part", "chart", "--packs", "brackwater", "--json").json["kind"]
        == "chart-letters"
    )


def test_a_model_narrows_the_decades(run: Run) -> None:
    free = run("read", "993-348", "--packs", "brackwater", "--json").json["readings"]
    made = run("read", "993-348", "--model", "lantern-20-reverb", "--json").json["readings"]
    assert {r["date"][:4] for r in free} > {"1953", "1963"}
    assert made[0]["date"] == "1963-W48"
    assert made[0]["p"] > 0.9


def test_a_misfit_says_what_would_be_accepted_and_what_is_nearest(run: Run) -> None:
    ran = run("read", "992-354", "--kind", "source-date-code", "--json")
    assert ran.status == 1
    assert "992-352" in ran.json["misfit"]["nearest"]
    assert run("read", "992-354", "--kind", "source-date-code").out.count("nearest") == 1


def test_the_terminal_keeps_brackets_and_a_hundred_columns(run: Run) -> None:
    out = run("read", "993-3[48]8", "--packs", "brackwater").out
    assert "993-3[48]8 as source-date-code" in out
    assert max(len(line) for line in out.split("\n")) <= 100


def test_hidden_characters_never_reach_the_terminal(run: Run) -> None:
    ran = run("read", "99\u202e3-348", "--kind", "source-date-code")
    assert ran.status == 1
    assert "\u202e" not in ran.out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["993-348", "--kind", "source-code"], "did you mean source-date-code"),
        (["993-348", "--part", "oot"], "did you mean"),
        (["993-348", "--model", "lantern"], "did you mean"),
        ([], "Missing argument 'TEXT'"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(run: Run, arguments: list[str], says: str) -> None:
    ran = run("read", *arguments)
    assert ran.status == 2
    assert says in ran.err
    assert one_sentence(ran.err)


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("document", "1965-02-14"),
        ("feature", "covering-colour=grey-tweed"),
        ("measured", "weave-pitch=2.31mm"),
        ("condition", "joint-untouched"),
        ("label-text", "Port Ellery, W. Germany"),
    ],
)
def test_kinds_that_are_no_code_can_be_read_too(run: Run, kind: str, text: str) -> None:
    ran = run("read", text, "--kind", kind, "--packs", "brackwater", "--json")
    assert ran.status == 0
    assert ran.json["kind"] == kind
    assert run("read", text, "--kind", kind, "--packs", "brackwater").status == 0
