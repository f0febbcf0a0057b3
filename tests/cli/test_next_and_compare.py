"""``endbell next`` and ``endbell compare``."""

from __future__ import annotations

from pathlib import Path

import pytest

from .conftest import AMP, Run, one_sentence


def test_checks_go_no_further_in_than_asked(run: Run, amp: Path) -> None:
    every = run("next", "amp.toml", "--json").json
    outside = run("next", "amp.toml", "--level", "outside", "--json").json
    assert {check["level"] for check in every["next"]} > {"outside"}
    assert {check["level"] for check in outside["next"]} == {"outside"}
    assert outside["levels"] == ["outside"]
    assert run("next", "amp.toml", "--level", "back-off", "--json").json["levels"] == [
        "outside",
        "back-off",
    ]


def test_the_caution_stands_under_its_level(run: Run, amp: Path) -> None:
    amp.write_text(AMP.split('[[mark]]\npart = "chart"')[0], encoding="utf-8")
    ran = run("next", "amp.toml")
    assert ran.status == 0
    assert ran.out.index("chassis-out") < ran.out.index("High voltage")
    assert "High voltage" not in run("next", "amp.toml", "--level", "back-off").out
    assert max(len(line) for line in ran.out.split("\n")) <= 100


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["amp.toml", "--level", "back"], "back-off"),
        (["none.toml"], "no such file"),
        (["amp.toml", "--assume", "x=1"], "no assumption"),
    ],
)
def test_next_that_cannot_be_done_is_one_sentence(
    run: Run, amp: Path, arguments: list[str], says: str
) -> None:
    ran = run("next", *arguments)
    assert (ran.status, ran.out) == (2, "")
    assert says in ran.err
    assert one_sentence(ran.err)


def test_the_odds_of_rival_models_sum_to_one(run: Run, amp: Path) -> None:
    run("note", "amp.toml", "faceplate", "faceplate-legend=lantern", "--on", "2026-03-02")
    ran = run("compare", "amp.toml", "--models", "lantern-20,lantern-20-reverb", "--json")
    assert ran.status == 0
    odds = {entry["model"]: entry["p"] for entry in ran.json["models"]}
    assert sum(odds.values()) == pytest.approx(1.0)
    assert odds["lantern-20"] > 0.8
    assert (
        "Lantern 20" in run("compare", "amp.toml", "--models", "lantern-20,lantern-20-reverb").out
    )


@pytest.mark.parametrize(
    ("models", "says"),
    [("lantern-20", "two models"), ("lantern-20,wick6", "did you mean wick-6"), ("", "two models")],
)
def test_compare_that_cannot_be_done_is_one_sentence(
    run: Run, amp: Path, models: str, says: str
) -> None:
    ran = run("compare", "amp.toml", "--models", models)
    assert (ran.status, ran.out) == (2, "")
    assert says in ran.err
    assert one_sentence(ran.err)
