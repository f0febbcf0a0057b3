"""``endbell demo``: what the demonstration dossiers are for, they show."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from endbell.cli.demo import demo_texts

from .conftest import Run


@pytest.fixture
def verdicts(run: Run) -> dict[str, Any]:
    """The verdicts of the demonstration, by the first letters of the file's name."""
    ran = run("demo", "amps", "--json")
    assert ran.status == 0
    return {Path(v["file"]).name.split("-")[0]: v for v in ran.json["verdicts"]}


def test_the_demonstration_says_what_it_says_it_shows(verdicts: dict[str, Any]) -> None:
    years = {name: verdict["build"]["years"] for name, verdict in verdicts.items()}
    # (a) parts on both sides of a New Year: the later year
    assert years["a"]["1964"] > 0.95
    assert verdicts["a"]["claim"]["p"] > 0.5
    # (b) a later loudspeaker is a replacement and does not move the date
    assert verdicts["b"]["parts"]["sp-1"]["word"] == "replaced"
    assert years["b"]["1964"] > 0.95
    assert verdicts["b"]["claim"]["weakest"] == "sp-1 original"
    # (c) single year digits leave two decades open, until one mark more
    assert years["c"]["1954"] > 0.1
    assert years["c"]["1964"] > 0.1
    assert years["c2"]["1964"] > 0.95
    # (d) the cabinet is another amp's
    assert verdicts["d"]["assemblies"]["cabinet"]["married"] > 0.9
    assert years["d"]["1961"] > 0.9
    # (e) a re-issue of the nineties, whatever it is dressed as
    assert sum(p for year, p in years["e"].items() if int(year) >= 1993) > 0.95
    assert verdicts["e"]["claim"]["p"] < 0.01
    # (f) hardly a whole code, and still a year
    assert years["f"]["1967"] > 0.9


def test_the_demonstration_leaves_a_report_and_says_where(
    run: Run, verdicts: dict[str, Any]
) -> None:
    ran = run("demo", "amps")
    assert "report: amps/a-honest-lantern-reverb.html" in ran.err
    assert "7/7" in ran.err
    assert "TRV-2026-0147" in Path("amps/a-honest-lantern-reverb.html").read_text(encoding="utf-8")
    for name in demo_texts():
        assert name.removesuffix(".toml") in ran.out


def test_a_dossier_somebody_changed_is_not_written_over(run: Run) -> None:
    Path("amps").mkdir()
    Path("amps/b-one-later-loudspeaker.toml").write_text("mine", encoding="utf-8")
    assert run("demo", "amps").status == 2
    assert Path("amps/b-one-later-loudspeaker.toml").read_text(encoding="utf-8") == "mine"


def test_no_row_of_the_demonstration_is_left_out(run: Run) -> None:
    for name, text in demo_texts().items():
        Path(name).write_text(text, encoding="utf-8")
    ran = run("check", *demo_texts(), "--json")
    assert ran.status == 0
    assert all(entry["remarks"] == [] for entry in ran.json)
