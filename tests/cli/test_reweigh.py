"""``endbell reweigh``: what another pack or assumption does to verdicts already reached."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from .conftest import AMP, Run, one_sentence

LOUDSPEAKER = """
[[mark]]
part = "sp-1"
kind = "source-date-code"
text = "995-712"
"""

OFTEN = "replaced.loudspeaker.probability=0.7"


@pytest.fixture
def amps(tmp_path: Path) -> Path:
    folder = tmp_path / "amps"
    folder.mkdir()
    (folder / "a.toml").write_text(AMP, encoding="utf-8")
    (folder / "b.toml").write_text(AMP.replace("TRV-1", "TRV-2") + LOUDSPEAKER, encoding="utf-8")
    return folder


@pytest.fixture
def batch(run: Run, amps: Path) -> None:
    ran = run("batch", "amps", "--out", "out", "--workers", "0", "--as-of", "2026-03-02")
    assert ran.status == 0


@pytest.mark.usefixtures("batch")
def test_what_an_assumption_does_is_said_most_changed_first(run: Run, tmp_path: Path) -> None:
    ran = run("reweigh", "out", "--assume", OFTEN, "--workers", "0", "--json")
    assert ran.status == 0
    found = ran.json
    assert (found["compared"], found["changed"]) == (2, 1)
    (change,) = found["changes"]
    assert change["dossier"] == "TRV-2"
    assert 0 < change["shift"] <= 1
    for key in ("p_mode_year", "claim_p"):
        moved = change[f"{key}_after"] - change[f"{key}_before"]
        assert change[f"{key}_change"] == pytest.approx(moved, abs=1e-9)
    with open(tmp_path / "out" / "reweighed" / "changes.csv", newline="") as stream:
        assert [row["dossier"] for row in csv.DictReader(stream)] == ["TRV-2"]


@pytest.mark.usefixtures("batch")
def test_it_is_shown_as_a_table(run: Run) -> None:
    ran = run("reweigh", "out", "--assume", OFTEN, "--workers", "0")
    assert ran.status == 0
    assert "TRV-2" in ran.out
    assert "1 of 2 verdicts changed" in ran.out
    assert "changes.csv" in ran.out


@pytest.mark.usefixtures("batch")
def test_nothing_changed_nothing_to_say(run: Run, tmp_path: Path, monkeypatch: object) -> None:
    ran = run("reweigh", "out", "--workers", "0", "--out", "elsewhere")
    assert ran.out.startswith("0 of 2 verdicts changed")
    assert (tmp_path / "elsewhere" / "changes.csv").exists()


def test_an_assumption_of_the_first_time_holds_unless_it_is_the_one_that_changes(
    run: Run, amps: Path
) -> None:
    run("batch", "amps", "--out", "out", "--workers", "0", "--assume", OFTEN)
    same = run("reweigh", "out", "--workers", "0", "--json").json
    other = "replaced.loudspeaker.probability=0.1"
    back = run("reweigh", "out", "--workers", "0", "--assume", other, "--json").json
    assert (same["changed"], back["changed"]) == (0, 1)


def test_a_pack_that_was_edited_is_compared_with_what_it_was(
    run: Run, amps: Path, tmp_path: Path
) -> None:
    pack = tmp_path / "packs" / "shop"
    for text in (p.read_text() for p in amps.glob("b.toml")):
        (amps / "b.toml").write_text(text.replace('"brackwater"]', '"brackwater", "shop"]'))
    write_pack(pack, 0.05)
    run("batch", "amps", "--out", "out", "--workers", "0")
    write_pack(pack, 0.6)
    found = run("reweigh", "out", "--workers", "0", "--json").json
    assert [change["dossier"] for change in found["changes"]] == ["TRV-2"]
    write_pack(tmp_path / "old" / "shop", 0.05)
    again = run("reweigh", "amps", "--against", "old", "--workers", "0", "--json").json
    assert [change["dossier"] for change in again["changes"]] == ["TRV-2"]
    assert again["changes"][0]["shift"] == found["changes"][0]["shift"]


def write_pack(folder: Path, rate: float) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "pack.toml").write_text(
        f"""format = "endbell-pack/1"
id = "shop"
version = "1"
title = "Two Rivers"
builds_on = ["brackwater"]

[[assumption]]
name = "replaced.loudspeaker.probability"
value = {rate}
unit = "probability"
source = "invented"
confidence = "invented world"
""",
        encoding="utf-8",
    )


def test_dossiers_are_weighed_twice(run: Run, amps: Path, tmp_path: Path) -> None:
    ran = run("reweigh", "amps", "--before", OFTEN, "--workers", "0", "--json", "--out", "r")
    assert [change["dossier"] for change in ran.json["changes"]] == ["TRV-2"]
    assert (tmp_path / "r" / "before" / "verdicts.csv").exists()
    assert (tmp_path / "r" / "after" / "verdicts.csv").exists()


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("amps",), "two settings are compared"),
        (("amps", "--against", "nowhere"), "there is no such pack"),
        (("out", "--before", OFTEN), "--against and --before are for dossiers"),
        (("out", "amps"), "one output folder of a batch at a time"),
        (("nowhere", "--assume", OFTEN), "no such file"),
    ],
)
@pytest.mark.usefixtures("batch")
def test_what_can_not_be_compared_is_refused(
    run: Run, arguments: tuple[str, ...], why: str
) -> None:
    ran = run("reweigh", *arguments, "--workers", "0")
    assert ran.status == 2
    assert why in ran.err
    assert one_sentence(ran.err)


@pytest.mark.usefixtures("batch")
def test_dossiers_that_have_moved_away_are_said(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "amps").rename(tmp_path / "moved")
    ran = run("reweigh", "out", "--workers", "0")
    assert (ran.status, "amps: there is no such file or folder" in ran.err) == (2, True)
