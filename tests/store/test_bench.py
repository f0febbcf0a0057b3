"""The bench of an amp in the store: recorded, taken back, carried through backup and export."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from endbell.bench.sheet import sheet_of
from endbell.store import (
    Change,
    ChangeRefused,
    Database,
    append,
    events_of,
    new_id,
    open_database,
    state_of,
)
from endbell.store.doctor import examine
from endbell.store.exporting import export_to
from endbell.store.importing import import_export
from endbell.store.state import DossierState, state_from_json

from .shops import BY, book_in

BOND = {"line": "earth-bond", "value": "60 mohm"}
NEW_OT = {"part": "ot", "by_what": "a new one", "why": "open primary", "kept": True, "bag": "1"}


def measure(db: Database, dossier: str, row: dict[str, object], reading: str = "") -> str:
    made = reading or new_id()
    append(db, dossier, [Change("reading-set", {"reading": made, "row": row})], by=BY)
    return made


def test_readings_become_the_tables_of_a_sheet_file(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    head = {"circuit": "brackwater/lantern-20", "practice": "vde"}
    append(db, dossier, [Change("sheet-head-set", {"keys": head})], by=BY)
    measure(db, dossier, BOND)
    measure(db, dossier, {"line": "fuse-fitted", "value": "1.6 A", "note": "T"})
    passed = {"line": "insulation", "by": "Tomas Bench", "reason": "tester away"}
    append(db, dossier, [Change("override-given", {"override": new_id(), "row": passed})], by=BY)
    sheet = sheet_of(state_of(db, dossier).sheet_form())
    assert (sheet.id, sheet.circuit, sheet.practice) == ("TRV-1", "brackwater/lantern-20", "vde")
    assert [(r.n, r.line, r.value) for r in sheet.readings] == [
        (1, "earth-bond", 0.06),
        (2, "fuse-fitted", 1.6),
    ]
    assert [(o.line, o.by, o.reason) for o in sheet.overrides] == [
        ("insulation", "Tomas Bench", "tester away")
    ]
    assert sheet.problems == ()


def test_a_reading_measured_again_keeps_its_place_and_its_first_wording(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    first = measure(db, dossier, BOND)
    measure(db, dossier, {"line": "cord-kind", "value": "3"})
    measure(db, dossier, {"line": "earth-bond", "value": "0.2"}, first)
    readings = state_of(db, dossier).bench.readings
    assert [r.row["value"] for r in readings] == ["0.2", "3"]
    assert [e.data["row"]["value"] for e in events_of(db, dossier) if e.kind == "reading-set"] == [
        "60 mohm",
        "3",
        "0.2",
    ]


def test_a_reading_is_taken_back_and_put_back(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    measure(db, dossier, BOND)
    n = state_of(db, dossier).version
    append(db, dossier, [Change("undone", {"n": n})], by=BY)
    assert "reading" not in state_of(db, dossier).sheet_form()
    append(db, dossier, [Change("redone", {"n": n})], by=BY)
    assert state_of(db, dossier).sheet_form()["reading"] == [BOND]


def test_what_is_withdrawn_stays_and_leaves_the_sheet(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    gone = measure(db, dossier, BOND)
    why = {"reading": gone, "reason": "wrong pin"}
    append(db, dossier, [Change("reading-withdrawn", why)], by=BY)
    state = state_of(db, dossier)
    assert "reading" not in state.sheet_form()
    assert [(r.row, r.withdrawn) for r in state.bench.readings] == [(BOND, True)]


def test_a_replaced_part_is_a_repair_of_the_dossier_until_it_is_withdrawn(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    append(db, dossier, [Change("replaced-set", {"replaced": "r1", "row": NEW_OT})], by=BY)
    note = "by a new one; open primary; old part in bag 1"
    repair = {"part": "ot", "replaced": True, "note": note}
    assert state_of(db, dossier).form()["repair"] == [repair]
    append(db, dossier, [Change("replaced-withdrawn", {"replaced": "r1"})], by=BY)
    assert "repair" not in state_of(db, dossier).form()


def test_what_was_seen_on_the_old_part_goes_with_it(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    mark = {"part": "ot", "kind": "source-date-code", "text": "993-348", "on": "2026-02-01"}
    append(db, dossier, [Change("mark-set", {"mark": "m1", "row": mark})], by=BY)
    old = {"id": "ot-removed", "class": "output-transformer"}
    data = {"replaced": "r1", "row": {**NEW_OT, "done": "2026-03-04"}}
    append(db, dossier, [Change("replaced-set", {**data, "removed": old, "marks": ["m1"]})], by=BY)
    new = {**mark, "text": "993-601", "on": "2026-02-02"}
    append(db, dossier, [Change("mark-set", {"mark": "m2", "row": new})], by=BY)
    state = state_of(db, dossier)
    form = state.form()
    assert [(m["part"], m["text"]) for m in form["mark"]] == [
        ("ot-removed", "993-348"),
        ("ot", "993-601"),
    ]
    assert form["part"] == [old]
    assert state.marks[0].row["part"] == "ot"  # as typed
    assert state_from_json(state.as_json()) == state
    n = next(e.n for e in events_of(db, dossier) if e.kind == "replaced-set")
    append(db, dossier, [Change("undone", {"n": n})], by=BY)
    assert [m["part"] for m in state_of(db, dossier).form()["mark"]] == ["ot", "ot"]


def test_a_repair_is_never_after_the_day_as_of_which_the_amp_is_judged(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    mark = {"part": "ot", "kind": "source-date-code", "text": "993-348", "on": "2026-02-01"}
    append(db, dossier, [Change("mark-set", {"mark": "m1", "row": mark})], by=BY)
    assert "as_of" not in state_of(db, dossier).form()
    later = {**NEW_OT, "done": "2099-03-04"}
    append(db, dossier, [Change("replaced-set", {"replaced": "r1", "row": later})], by=BY)
    assert state_of(db, dossier).form()["as_of"] == "2099-03-04"
    append(db, dossier, [Change("head-set", {"keys": {"as_of": "2026-02-02"}})], by=BY)
    assert state_of(db, dossier).form()["as_of"] == "2026-02-02"


def test_a_bag_is_handed_over_once_it_is_recorded(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    row = {"bags": ["1"], "to": "A. Customer", "by": "Tomas Bench"}
    append(db, dossier, [Change("bags-handed-over", {"handover": "h1", "row": row})], by=BY)
    assert [h.row for h in state_of(db, dossier).bench.standing("handovers")] == [row]


def test_a_reading_without_its_row_is_refused(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    with pytest.raises(ChangeRefused, match="reading-set without 'row'"):
        append(db, dossier, [Change("reading-set", {"reading": "r"})], by=BY)
    data = {"reading": "r", "row": {}, "volts": "1"}
    with pytest.raises(ChangeRefused, match="carries reading, row; found 'volts'"):
        append(db, dossier, [Change("reading-set", data)], by=BY)


def test_a_key_of_the_head_is_taken_away(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    for keys in ({"practice": "us", "by": "RT"}, {"by": None}):
        append(db, dossier, [Change("sheet-head-set", {"keys": keys})], by=BY)
    assert state_of(db, dossier).bench.head == {"practice": "us"}


def test_doctor_finds_nothing_amiss(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    measure(db, dossier, BOND)
    append(db, dossier, [Change("replaced-set", {"replaced": "r1", "row": NEW_OT})], by=BY)
    assert [f for f in examine(db) if f.grave] == []


def test_an_amp_that_was_never_on_the_bench_is_kept_as_before() -> None:
    state = DossierState(id="d")
    assert "bench" not in state.as_json()
    assert state_from_json(state.as_json()) == state


def test_an_export_brings_the_bench_along(db: Database, tmp_path: Path) -> None:
    dossier = book_in(db, "TRV-1")
    measure(db, dossier, BOND)
    append(db, dossier, [Change("replaced-set", {"replaced": "r1", "row": NEW_OT})], by=BY)
    archive = tmp_path / "all.zip"
    export_to(db, archive)
    assert zipfile.is_zipfile(archive)
    other = open_database(tmp_path / "other")
    try:
        import_export(other, archive)
        assert state_of(other, dossier).bench == state_of(db, dossier).bench
        assert [f for f in examine(other) if f.grave] == []
    finally:
        other.close()
