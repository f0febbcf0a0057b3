"""``endbell doctor``, ``backup`` and ``restore``: a shop's records looked at, kept, brought back."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from endbell.store import By, Change, append, new_id, open_database

from .conftest import Run

BY = By("RT")


@pytest.fixture
def shop(run: Run, tmp_path: Path) -> Path:
    """A folder with one amp and one mark in it, where the commands run."""
    folder = Path("shop").resolve()
    db = open_database(folder)
    dossier = new_id()
    append(db, dossier, [Change("opened", {"number": "TRV-1"})], by=BY)
    row = {"part": "ot", "kind": "source-date-code", "text": "993-348"}
    append(db, dossier, [Change("mark-set", {"mark": new_id(), "row": row})], by=BY)
    db.close()
    return folder


def test_a_sound_shop_is_said_to_be_sound(run: Run, shop: Path) -> None:
    ran = run("doctor", "--data", "shop")
    assert (ran.status, ran.out) == (0, "")
    assert "everything is there and unaltered" in ran.err
    assert run("doctor", "--data", "shop", "--json").json == {"clean": True, "findings": []}


def test_damage_is_named_and_what_follows_from_events_is_mended(run: Run, shop: Path) -> None:
    with sqlite3.connect(shop / "endbell.sqlite") as file:
        file.execute("UPDATE marks SET text = '993-349'")
    ran = run("doctor", "--data", "shop")
    assert ran.status == 1
    assert ran.out.startswith("row altered: dossier TRV-1: ")
    assert run("doctor", "--data", "shop", "--mend").status == 0
    assert run("doctor", "--data", "shop").status == 0


def test_damaged_events_are_not_mended_over(run: Run, shop: Path) -> None:
    with sqlite3.connect(shop / "endbell.sqlite") as file:
        file.execute("UPDATE events SET who = 'X' WHERE n = 2")
    assert run("doctor", "--data", "shop", "--json").json["findings"][0]["what"] == "event altered"
    ran = run("doctor", "--data", "shop", "--mend")
    assert ran.status == 2
    assert "nothing is made anew from damaged events" in ran.err


def test_a_backup_comes_back(run: Run, shop: Path) -> None:
    ran = run("backup", "b.zip", "--data", "shop")
    assert ran.status == 0
    assert "1 dossiers, 2 events, 0 photos" in ran.err
    assert run("restore", "b.zip", "--data", "again").status == 0
    assert run("doctor", "--data", "again").status == 0
    again = run("restore", "b.zip", "--data", "again", "--over", "--json").json
    assert again["counts"]["dossiers"] == 1
    (aside,) = Path("again").glob("before-*")
    assert (aside / "endbell.sqlite").is_file()


def test_nothing_is_written_over_unasked(run: Run, shop: Path) -> None:
    run("backup", "b.zip", "--data", "shop")
    ran = run("backup", "b.zip", "--data", "shop")
    assert ran.status == 2
    assert "b.zip is there already" in ran.err
    ran = run("restore", "b.zip", "--data", "shop")
    assert ran.status == 2
    assert "the database is not empty" in ran.err


@pytest.mark.parametrize("command", [("doctor",), ("backup", "b.zip")])
def test_a_folder_without_records_is_said_and_not_made(run: Run, command: tuple[str, ...]) -> None:
    ran = run(*command, "--data", "elsewhere")
    assert ran.status == 2
    assert "elsewhere: no records of a shop here" in ran.err
    assert not Path("elsewhere").exists()


def test_what_is_no_backup_is_refused(run: Run, shop: Path) -> None:
    Path("b.zip").write_text("no zip at all", encoding="utf-8")
    ran = run("restore", "b.zip", "--data", "again")
    assert ran.status == 2
    assert "b.zip is no whole backup" in ran.err
    assert run("restore", "none.zip", "--data", "again").status == 2
    shutil.rmtree("again")
