"""``endbell simulate``: what it writes, what it refuses, and that it goes on where it stopped."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from endbell.learning.simulation import Simulator

from .conftest import Run, one_sentence


def rows(folder: Path) -> list[dict[str, str]]:
    with (folder / "truth.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def contents(folder: Path) -> dict[str, bytes]:
    return {f.name: f.read_bytes() for f in folder.iterdir()}


def test_every_dossier_has_its_file_and_its_row(run: Run, tmp_path: Path) -> None:
    ran = run("simulate", "12", "drawn", "--packs", "brackwater", "--seed", "7")
    assert ran.status == 0
    assert "12 dossiers" in ran.out
    found = rows(tmp_path / "drawn")
    assert [r["dossier"] for r in found] == [f"SIM-7-{i:06d}" for i in range(12)]
    assert list(found[0]) == [
        "dossier",
        "model",
        "build_week",
        "stock_age",
        "origins",
        "married",
        "claim_true",
    ]
    for row in found:
        assert (tmp_path / "drawn" / f"{row['dossier']}.toml").is_file()
        origins = dict(pair.split("=") for pair in row["origins"].split(";"))
        assert set(origins.values()) <= {"original", "later", "period"}
        assert row["claim_true"] in ("true", "false", "")
        assert row["build_week"][4:6] == "-W"


def test_drawn_dossiers_can_be_checked_and_weighed(run: Run) -> None:
    run("simulate", "3", "drawn", "--packs", "brackwater")
    files = [f"drawn/SIM-1-{i:06d}.toml" for i in range(3)]
    assert run("check", *files).status == 0
    weighed = run("weigh", files[0], "--json")
    assert weighed.status == 0
    assert weighed.json["dossier"] == "SIM-1-000000"


def test_json_says_what_was_drawn_and_from_what(run: Run) -> None:
    ran = run(
        "simulate", "2", "drawn", "--as-of", "1990-05-01", "--assume", "prior.leak=0.02", "--json"
    )
    told = ran.json
    assert (told["dossiers"], told["written"], told["seed"]) == (2, 2, 1)
    assert told["as_of"] == "1990-05-01"
    assert told["assume"] == {"prior.leak": 0.02}
    assert set(told["sha256"]) == {"standards", "common-practice"}
    text = Path("drawn/SIM-1-000001.toml").read_text(encoding="utf-8")
    assert "as_of = 1990-05-01" in text


def test_it_adds_what_is_missing(run: Run, tmp_path: Path) -> None:
    run("simulate", "9", "whole")
    run("simulate", "4", "pieces")
    ran = run("simulate", "9", "pieces", "--json")
    assert ran.json["written"] == 5
    assert contents(tmp_path / "whole") == contents(tmp_path / "pieces")


def test_stopped_in_the_middle_of_a_row_it_goes_on(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("simulate", "9", "whole")
    really = Simulator.draw

    def stopping(self: Simulator, seed: int, i: int) -> Any:
        if i == 6:
            raise KeyboardInterrupt
        return really(self, seed, i)

    with monkeypatch.context() as patched:
        patched.setattr(Simulator, "draw", stopping)
        assert run("simulate", "9", "pieces").status != 0
    truth = tmp_path / "pieces" / "truth.csv"
    truth.write_bytes(truth.read_bytes()[:-20])
    assert run("simulate", "9", "pieces").status == 0
    assert contents(tmp_path / "whole") == contents(tmp_path / "pieces")


def test_a_folder_of_other_things_is_left_alone(run: Run, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "amp.toml").write_text("id = 'TRV-1'", encoding="utf-8")
    ran = run("simulate", "3", "mine")
    assert ran.status == 2
    assert one_sentence(ran.err)
    assert [f.name for f in (tmp_path / "mine").iterdir()] == ["amp.toml"]


@pytest.mark.parametrize(
    "other", [("--seed", "2"), ("--as-of", "2020-01-01"), ("--packs", "brackwater")]
)
def test_a_folder_begun_with_other_arguments_is_left_alone(
    run: Run, tmp_path: Path, other: tuple[str, ...]
) -> None:
    run("simulate", "3", "drawn")
    before = contents(tmp_path / "drawn")
    ran = run("simulate", "5", "drawn", *other)
    assert ran.status == 2
    assert "begun with another" in ran.err
    assert contents(tmp_path / "drawn") == before


def test_fewer_than_there_are_is_refused(run: Run) -> None:
    run("simulate", "5", "drawn")
    ran = run("simulate", "3", "drawn")
    assert ran.status == 2
    assert "5 dossiers already" in ran.err


@pytest.mark.parametrize(
    "arguments",
    [
        ("0", "drawn"),
        ("3", "drawn", "--packs", "no-such-maker"),
        ("3", "drawn", "--as-of", "soon"),
        ("3", "drawn", "--assume", "prior.lek=0.1"),
        ("3", "drawn", "--seed", "-1"),
    ],
)
def test_what_can_not_be_is_said_in_one_sentence(run: Run, arguments: tuple[str, ...]) -> None:
    ran = run("simulate", *arguments)
    assert ran.status == 2
    assert one_sentence(ran.err)
    assert not Path("drawn").exists()


def test_simulation_json_is_enough_to_draw_them_again(run: Run, tmp_path: Path) -> None:
    run("simulate", "2", "drawn", "--packs", "brackwater", "--seed", "3")
    told = json.loads((tmp_path / "drawn" / "simulation.json").read_text(encoding="utf-8"))
    assert told["format"] == "endbell-simulation/1"
    run(
        *("simulate", "2", "again", "--packs", ",".join(told["packs"])),
        *("--seed", str(told["seed"]), "--as-of", told["as_of"]),
    )
    assert contents(tmp_path / "drawn") == contents(tmp_path / "again")
