"""Two verdicts side by side: what moved, and what is said first."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from endbell.batch.changes import Change, Tally, changes, compare
from endbell.batch.ranking import COLUMNS, rank, record
from endbell.batch.verdict_row import NAMES, error_row

VERDICT: dict[str, Any] = {
    "dossier": "TR-1", "file": "a.toml", "as_of": "2026-W10", "edtf": "[1963-12..1964-04]",
    "mode": "1964-W01", "mode_year": 1964, "p_mode_year": 0.75, "first_week_95": "1963-W50",
    "last_week_95": "1964-W16", "claim_p": 0.5, "model": "wick-6", "p_model": 0.9, "parts": 2,
    "originals": 2, "married": None, "p_married": None, "log_evidence": -10.0, "marks": 2,
    "not_weighed": 0, "years": "1963:0.25;1964:0.75",
    "words": json.dumps({"ot": "original", "sp-1": "cannot tell"}), "error": None,
}  # fmt: skip


def verdict(**other: Any) -> dict[str, Any]:
    return VERDICT | other


def row(**other: Any) -> list[Any]:
    found = verdict(**other)
    return [found[name] for name in NAMES]


def test_the_shift_is_the_probability_that_moved_to_another_year() -> None:
    moved = verdict(years="1954:0.5;1963:0.25;1964:0.25")
    assert compare(VERDICT, moved).shift == 0.5
    assert compare(moved, VERDICT).shift == 0.5
    assert compare(VERDICT, verdict(years="1954:0.4;1955:0.6")).shift == 1.0


def test_years_too_small_to_be_listed_count_as_one() -> None:
    assert compare(verdict(years="1964:1.0"), verdict(years="1964:0.998")).shift == 0.002


@pytest.mark.parametrize(
    ("mode", "weeks"), [("1964-W02", 1), ("1963-W52", -1), ("1974-W01", 522), ("1964-W01", 0)]
)
def test_the_likeliest_week_moves_by_whole_weeks(mode: str, weeks: int) -> None:
    assert compare(VERDICT, verdict(mode=mode)).mode_weeks == weeks


def test_years_enter_and_leave_the_set() -> None:
    found = compare(VERDICT, verdict(edtf="[1954-02,1964-01..1965-02]"))
    assert (found.years_in, found.years_out) == ((1954, 1965), (1963,))


def test_a_part_gets_another_word() -> None:
    words = json.dumps({"ot": "original", "sp-1": "replaced", "cab": "original"})
    assert compare(VERDICT, verdict(words=words)).words == {
        "sp-1": ("cannot tell", "replaced"),
        "cab": ("", "original"),
    }


def test_a_verdict_that_is_lost_has_changed_altogether() -> None:
    lost = dict(zip(NAMES, error_row("TR-1", "a.toml", "no week"), strict=True))
    found = compare(VERDICT, lost)
    assert (found.shift, found.mode_weeks, found.years_out) == (1.0, None, (1963, 1964))
    assert found.moved("claim_p") is None


def test_dossiers_are_matched_by_file_and_id_in_whatever_order() -> None:
    before = [row(dossier=name) for name in "abcd"]
    after = [row(dossier=name, mode_year=1954) for name in "cadx"]
    tally = Tally()
    found = list(changes(before, after, tally))
    assert sorted(c.dossier for c in found) == ["a", "c", "d"]
    assert tally == Tally(compared=3, changed=3, other_year=3, only_before=1, only_after=1)


def test_what_has_not_changed_is_not_listed() -> None:
    tally = Tally()
    assert list(changes([row()], [row()], tally)) == []
    assert tally == Tally(compared=1)


def test_lost_and_gained_verdicts_are_counted() -> None:
    tally = Tally()
    none = list(error_row("TR-1", "a.toml", "no week"))
    list(changes([row()], [none], tally))
    list(changes([none], [row()], tally))
    assert (tally.lost, tally.gained) == (1, 1)


def test_most_changed_comes_first(tmp_path: Path) -> None:
    def change(name: str, **other: Any) -> Change:
        return compare(verdict(dossier=name), verdict(dossier=name, **other))

    found = [
        change("claim", claim_p=0.4),
        change("larger claim", claim_p=0.9),
        change("year", years="1963:0.75;1964:0.25"),
        change("a little", years="1963:0.26;1964:0.74"),
        change("word", words="{}"),
        change("evidence", log_evidence=-9.0),
    ]
    first = rank(iter(found), tmp_path, 2)
    assert [one["dossier"] for one in first] == ["year", "a little"]
    with open(tmp_path / "changes.csv", newline="", encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert [one["dossier"] for one in rows] == [
        "year", "a little", "larger claim", "claim", "word", "evidence",
    ]  # fmt: skip
    assert tuple(rows[0]) == COLUMNS == tuple(record(found[0]))
    assert [path.name for path in tmp_path.iterdir()] == ["changes.csv"]
