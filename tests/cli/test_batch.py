"""``endbell batch``: what is shown before, said after, and left behind."""

from __future__ import annotations

import csv
import io
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

import endbell
from endbell.batch.journal import FILE, Journal

from .conftest import AMP, BAD_ROW, Run, one_sentence

MARKS = """Dossier,Part,Code,Shelf
TR-1,ot,993-348,7
TR-2,ot,993-3?8,7
TR-1,pot-1,992-341,7
TR-2,pott,992-341,8
"""


@pytest.fixture
def amps(tmp_path: Path) -> Path:
    folder = tmp_path / "amps"
    folder.mkdir()
    (folder / "a.toml").write_text(AMP, encoding="utf-8")
    (folder / "b.toml").write_text(AMP.replace("TRV-1", "TRV-2") + BAD_ROW, encoding="utf-8")
    return folder


@pytest.fixture
def marks(tmp_path: Path) -> Path:
    file = tmp_path / "marks.csv"
    file.write_text(MARKS, encoding="utf-8")
    return file


def rows(folder: Path, name: str = "verdicts.csv") -> list[dict[str, str]]:
    with open(folder / name, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_a_folder_becomes_a_table_of_verdicts(run: Run, amps: Path, tmp_path: Path) -> None:
    ran = run("batch", "amps", "--out", "out", "--workers", "0", "--as-of", "2026-03-02")
    assert ran.status == 1
    assert ran.out.split("\n")[:2] == [
        "2 dossiers weighed: verdicts.csv and verdicts.parquet in out",
        "1 row not weighed: bad_rows.csv says which and why",
    ]
    single = run("weigh", "amps/a.toml", "--json", "--as-of", "2026-03-02").json
    row = rows(tmp_path / "out")[0]
    assert (row["dossier"], row["file"]) == ("TRV-1", "amps/a.toml")
    assert row["edtf"] == single["build"]["edtf"]
    assert row["p_mode_year"] == str(single["build"]["p_mode_year"])
    assert row["claim_p"] == str(single["claim"]["p"])
    assert (
        rows(tmp_path / "out", "bad_rows.csv")[0]["found"] == "no week from 01 to 53 in '992-354'"
    )


def test_the_summary_as_json(run: Run, amps: Path) -> None:
    ran = run("batch", "amps", "--out", "out", "--workers", "0", "--json")
    assert ran.json == {
        "out": "out",
        "csv": "out/verdicts.csv",
        "parquet": "out/verdicts.parquet",
        "bad_rows_csv": "out/bad_rows.csv",
        "dossiers": 2,
        "kept": 0,
        "errors": 0,
        "with_rows_not_weighed": 1,
        "bad_rows": 1,
        "ids_that_stand_twice": 0,
    }


def test_the_same_command_again_does_nothing_twice(run: Run, amps: Path) -> None:
    first = ("batch", "amps", "--out", "out", "--workers", "0")
    run(*first, "--as-of", "2026-03-02")
    again = run(*first)
    assert "going on from 2 dossiers, as of 2026-03-02" in again.err
    assert "(2 of them by an earlier run)" in again.out


def test_other_assumptions_are_said(run: Run, amps: Path) -> None:
    first = ("batch", "amps", "--out", "out", "--workers", "0")
    run(*first)
    again = run(*first, "--assume", "replaced.loudspeaker.probability=0.5")
    assert "assumptions not those of the last run there: everything is weighed anew" in again.err
    assert again.out.startswith("2 dossiers weighed: ")


def test_an_unknown_assumption_stops_before_anything_is_done(run: Run, amps: Path) -> None:
    ran = run("batch", "amps", "--out", "out", "--assume", "replaced.loudspaeker.probability=1")
    assert ran.status == 2
    assert one_sentence(ran.err)
    assert "did you mean" in ran.err


def test_nothing_that_could_be_weighed_is_a_failure(run: Run, tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    ran = run("batch", "in", "--out", "out")
    assert (ran.status, ran.err.strip()) == (
        2,
        "endbell: no dossiers in in; a dossier is a .toml file, or rows of a table that is named"
        " itself",
    )
    (tmp_path / "in" / "a.toml").write_text("id = ")
    ran = run("batch", "in", "--out", "out", "--workers", "0")
    assert ran.status == 2
    assert "1 dossier without a verdict" in ran.out


def test_what_else_lies_in_a_folder_is_said(run: Run, amps: Path, marks: Path) -> None:
    marks.rename(amps / "marks.csv")
    ran = run("batch", "amps", "--out", "out", "--workers", "0")
    assert "1 table or archive inside folders or archives left alone" in ran.err


def test_ids_that_stand_twice_are_said(run: Run, amps: Path) -> None:
    (amps / "c.toml").write_text(AMP, encoding="utf-8")
    ran = run("batch", "amps", "--out", "out", "--workers", "0")
    assert "1 id of more than one dossier (TRV-1); column file tells them apart" in ran.err


# ---- tables


def test_how_a_table_is_understood_is_shown_before_it_is_weighed(
    run: Run, marks: Path, tmp_path: Path
) -> None:
    ran = run("batch", "marks.csv", "--out", "out", "--workers", "0", "--packs", "brackwater")
    shown = [" ".join(line.split()) for line in ran.err.split("\n")]
    assert "marks.csv: how its columns are understood" in shown
    assert '"Code" text of a mark text its heading 993-348, 993-3?8' in shown
    assert any(line.startswith('"Shelf" not used no heading that is known') for line in shown)
    assert "TR-1 ot 993-348" in shown
    assert "no column is kind: the kind of each mark is guessed" in ran.err
    assert [row["dossier"] for row in rows(tmp_path / "out")] == ["TR-1", "TR-2"]
    bad = rows(tmp_path / "out", "bad_rows.csv")
    assert [(row["dossier"], row["line"], row["found"]) for row in bad] == [
        ("TR-2", "5", 'unknown part "pott"')
    ]


def test_columns_that_are_guesses_are_not_weighed_unseen(run: Run, marks: Path) -> None:
    marks.write_text(MARKS.split("\n", 1)[1].replace("pott", "pot-1"))
    ran = run("batch", "marks.csv", "--out", "out", "--workers", "0")
    assert ran.status == 2
    assert "some columns are guesses; --yes takes them as shown" in ran.err
    assert "(a guess)" in ran.err
    said = run("batch", "marks.csv", "--out", "out", "--workers", "0", "--yes")
    assert said.out.startswith("2 dossiers weighed")


def test_a_person_is_asked(run: Run, marks: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import typer

    from endbell.cli import batching

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    asked: list[str] = []

    def confirm(question: str, **how: Any) -> bool:
        asked.append(question)
        return False

    class Streams:
        stdin, stderr = Terminal(), Terminal()

    monkeypatch.setattr(batching, "sys", Streams)
    monkeypatch.setattr(typer, "confirm", confirm)
    ran = run("batch", "marks.csv", "--out", "out", "--workers", "0")
    assert asked == ["Weigh with the columns as shown?"]
    assert (ran.status, "stopped; --map" in ran.err) == (2, True)


def test_a_missing_column_is_named_and_can_be_said(run: Run, marks: Path) -> None:
    marks.write_text(
        MARKS.replace("Code", "Gravure").replace("993-", "as stamped on the bell 993-")
    )
    ran = run("batch", "marks.csv", "--out", "out", "--workers", "0")
    assert ran.status == 2
    assert "no column is text; say which with --map COLUMN=FIELD" in ran.err
    told = run("batch", "marks.csv", "--out", "out", "--workers", "0", "--map", "Gravure=text")
    assert "2 dossiers weighed" in told.out


@pytest.mark.parametrize(
    ("pair", "why"), [("Nope=text", "no table here"), ("Code=txt", "did you mean text")]
)
def test_a_map_that_can_not_be_is_refused(run: Run, marks: Path, pair: str, why: str) -> None:
    ran = run("batch", "marks.csv", "--out", "out", "--map", pair)
    assert (ran.status, why in ran.err) == (2, True)
    assert one_sentence(ran.err)


# ---- stopped


STOPPED = 1500
"""So many that the work can't be over when its first chunk is."""


def test_ctrl_c_says_what_is_done_and_the_same_command_goes_on(tmp_path: Path) -> None:
    """A real command in a real process, interrupted after its first chunk."""
    folder = tmp_path / "amps"
    folder.mkdir()
    for n in range(STOPPED):
        text = AMP.replace("TRV-1", f"TRV-{n}").replace("1964", f"{1950 + n % 20}")
        (folder / f"{n:03d}.toml").write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "endbell", "batch", "amps", "--out", "out", "--workers", "1"]
    file = tmp_path / "out" / FILE
    with subprocess.Popen(
        command,
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(Path(endbell.__file__).parents[1])},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # what runs in the background is born deaf to Ctrl-C: this one shall hear it wherever it runs
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    ) as process:
        while not file.exists() or not _holds_a_chunk(file):
            assert process.poll() is None
            time.sleep(0.01)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate()
    assert process.returncode == 2
    last = said.strip().split("\n")[-1]
    assert last.startswith("endbell: stopped; ")
    assert last.endswith(
        f"of {STOPPED:,} dossiers are done and kept in out; the same command goes on from there"
    )
    journal = Journal(tmp_path / "out")
    done = journal.finished()
    journal.close()
    assert f"stopped; {done} of {STOPPED:,}" in last
    assert 0 < done < STOPPED


def _holds_a_chunk(file: Path) -> bool:
    """Whether a chunk has been written; the file is locked as long as the command runs."""
    return b'["brackwater"]' in file.read_bytes()
