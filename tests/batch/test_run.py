"""A batch stopped, killed, changed and taken up again: the results are the same bytes."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pyarrow.parquet as parquet
import pytest

from endbell.batch import journal as journals
from endbell.batch import outputs
from endbell.batch.chunking import cut
from endbell.batch.code import made_by
from endbell.batch.errors import FolderInUse, OtherFolder, WorkersDiffer
from endbell.batch.items import FileItem
from endbell.batch.journal import Journal, seed
from endbell.batch.packs import Settings
from endbell.batch.pool import run_chunks
from endbell.batch.run import Progress, Stopped, open_journal
from endbell.batch.verdict_row import COLUMNS, NAMES
from endbell.batch.weigher import MENDING, Weigher, unpacked
from endbell.chronology import as_json
from endbell.chronology import weigh as weigh_one
from endbell.dossier import load_dossier
from endbell.reference import load_reference

from .conftest import COLLECTION, SETTINGS, Ran, Weigh, toml
from .deadly import DeadlyWeigher

SETTINGS_DAY = date.fromisoformat(SETTINGS.day)
FILES = ("verdicts.csv", "verdicts.parquet", "bad_rows.csv", "batch.json")


def all_bytes(ran: Ran) -> dict[str, bytes]:
    return {name: (ran.out / name).read_bytes() for name in FILES}


# ---- the numbers


def test_a_row_says_what_the_verdict_says_in_all_nine_digits(weigh: Weigh, folder: Path) -> None:
    rows = weigh(folder).rows
    assert [row["dossier"] for row in rows] == list(COLLECTION)
    reference, _ = load_reference(("brackwater",))
    for row in rows:
        dossier = load_dossier(row["file"], lambda _: reference, today=SETTINGS_DAY)
        verdict = as_json(weigh_one(dossier, reference, looks=0))
        build, claim = verdict["build"], verdict["claim"]
        married = max(
            ((a["married"], name) for name, a in verdict["assemblies"].items()), default=("", "")
        )
        expected = {
            "as_of": verdict["as_of"],
            "edtf": build["edtf"],
            "mode": build["mode"],
            "mode_year": build["mode_year"],
            "p_mode_year": build["p_mode_year"],
            "first_week_95": build["sets"]["0.95"][0][0],
            "last_week_95": build["sets"]["0.95"][-1][1],
            "claim_p": claim["p"],
            "model": verdict["models"][0]["model"],
            "p_model": verdict["models"][0]["p"],
            "p_married": married[0],
            "married": married[1],
            "log_evidence": verdict["log_evidence"],
            "not_weighed": len(verdict["not_weighed"]),
            "years": ";".join(f"{y}:{p}" for y, p in sorted(build["years"].items())),
            "parts": len(verdict["parts"]),
        }
        assert {name: row[name] for name in expected} == {k: str(v) for k, v in expected.items()}
        words = {part: found["word"] for part, found in verdict["parts"].items()}
        assert json.loads(row["words"]) == words


def test_the_parquet_file_holds_what_the_csv_holds(weigh: Weigh, folder: Path) -> None:
    (folder / "broken.toml").write_text("id = ", encoding="utf-8")
    ran = weigh(folder)
    table = parquet.read_table(ran.out / "verdicts.parquet")
    assert tuple(table.column_names) == NAMES
    shown = [{k: "" if v is None else str(v) for k, v in row.items()} for row in table.to_pylist()]
    assert shown == ran.rows
    about = json.loads(table.schema.metadata[b"endbell"])
    assert about == json.loads((ran.out / "batch.json").read_text(encoding="utf-8"))
    assert about["packs"]["brackwater"]["sha256"]


def test_row_groups_are_filled_across_chunks(
    weigh: Weigh, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(outputs, "ROW_GROUP", 4)
    ran = weigh(folder, chunk=4)
    file = parquet.ParquetFile(ran.out / "verdicts.parquet")
    sizes = [file.metadata.row_group(n).num_rows for n in range(file.metadata.num_row_groups)]
    assert sizes == [4, 2]
    ids = parquet.read_table(ran.out / "verdicts.parquet")["dossier"].to_pylist()
    assert ids == list(COLLECTION)


def test_without_pyarrow_there_is_a_csv_and_the_next_run_adds_the_parquet(
    weigh: Weigh, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setitem(sys.modules, "pyarrow", None)
        patch.setitem(sys.modules, "pyarrow.parquet", None)
        ran = weigh(folder)
    assert not ran.finished.written.parquet
    assert not (ran.out / "verdicts.parquet").exists()
    again = weigh(folder)
    assert again.finished.progress.kept == 6
    assert (ran.out / "verdicts.parquet").exists()


def test_every_column_says_what_it_is() -> None:
    wanted = {"dossier", "edtf", "mode", "mode_year", "p_mode_year", "claim_p", "not_weighed",
              "error"}  # fmt: skip
    assert wanted <= set(NAMES)
    assert all(column.words for column in COLUMNS)


# ---- stopped and taken up again


def test_what_is_done_is_not_done_again(weigh: Weigh, folder: Path) -> None:
    first = weigh(folder, chunk=4)
    before = all_bytes(first)
    again = weigh(folder)
    assert again.finished.progress.kept == again.finished.progress.done == 6
    assert all_bytes(again) == before


def test_a_batch_that_is_stopped_goes_on_where_it_was(weigh: Weigh, folder: Path) -> None:
    whole = all_bytes(weigh(folder, out="whole", chunk=4))

    def stop(progress: Progress) -> None:
        raise KeyboardInterrupt

    with pytest.raises(Stopped) as stopped:
        weigh(folder, chunk=4, tell=stop)
    done = stopped.value.progress.done
    assert 0 < done < 6
    rest = weigh(folder)
    assert rest.finished.progress.kept == done
    assert all_bytes(rest) == whole


def test_a_client_that_is_killed_loses_what_was_in_flight_and_no_more(
    weigh: Weigh, folder: Path, tmp_path: Path
) -> None:
    """kill -9 of the command after its first chunk; then the same command again."""
    whole = all_bytes(weigh(folder, out="whole", chunk=4))
    script = tmp_path / "client.py"
    script.write_text(
        f"""
import os, sys
sys.path[:0] = {sys.path!r}
from pathlib import Path
from endbell.batch.inputs import open_inputs
from endbell.batch.run import Plan, open_journal, run
from batch.conftest import SETTINGS
if __name__ == "__main__":
    out = Path({str(tmp_path / "out")!r})
    inputs = open_inputs([Path({str(folder)!r})], lambda text: True)
    journal = open_journal(out)
    journal.tell("chunk_size", 1)
    plan = Plan(inputs, SETTINGS, out, 1, inputs.look())
    run(plan, journal, lambda progress: os.kill(os.getpid(), 9))
"""
    )
    assert subprocess.run([sys.executable, str(script)]).returncode == -signal.SIGKILL
    rest = weigh(folder)
    assert 0 < rest.finished.progress.kept < 6
    assert all_bytes(rest) == whole


def test_a_worker_that_is_killed_loses_nothing(weigh: Weigh, folder: Path) -> None:
    whole = all_bytes(weigh(folder, out="whole", chunk=4))
    victims: list[int] = []

    def kill(progress: Progress) -> None:
        if not victims:
            for worker in multiprocessing.active_children():
                victims.append(worker.pid or 0)
                os.kill(worker.pid or 0, signal.SIGKILL)

    ran = weigh(folder, chunk=4, workers=2, tell=kill)
    assert victims
    assert all_bytes(ran) == whole


def test_a_dossier_that_kills_its_worker_is_an_error_and_the_others_are_weighed() -> None:
    names = [*COLLECTION, "deadly", "TR-8"]
    marks = COLLECTION["TR-1"]
    items = tuple(FileItem(f"{name}.toml", toml(name, marks).encode()) for name in names)
    found = run_chunks(DeadlyWeigher, iter([("a", items)]), 1, (SETTINGS,), mending=MENDING)
    ((_, weighed),) = found
    rows = unpacked(weighed.block)[0]
    assert [row[0] for row in rows] == names
    assert ["signal 9" in (row[-1] or "") for row in rows] == [name == "deadly" for name in names]
    assert (weighed.lost, weighed.errors) == (1, 1)
    whole = unpacked(Weigher(SETTINGS)(items[:6] + items[7:]).block)[0]
    assert [row for row in rows if row[0] != "deadly"] == whole


def test_a_lost_dossier_is_tried_again_the_next_time(
    weigh: Weigh, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add = Journal.add
    with monkeypatch.context() as patch:
        patch.setattr(Journal, "add", lambda *a: add(a[0], a[1], replace(a[2], lost=1)))
        weigh(folder)
    assert weigh(folder).finished.progress.kept == 0
    assert weigh(folder).finished.progress.kept == 6


# ---- changed meanwhile


def test_a_changed_dossier_costs_its_chunk_alone(weigh: Weigh, tmp_path: Path) -> None:
    where = tmp_path / "in"
    where.mkdir()
    for n in range(40):
        (where / f"{n:02d}.toml").write_text(
            toml(f"{n:02d}", COLLECTION["TR-1"][:1], f"19{n + 30}")
        )
    weigh(where, chunk=4)
    (where / "17.toml").write_text(toml("17", COLLECTION["TR-3"]))
    (where / "04b.toml").write_text(toml("04b", COLLECTION["TR-3"]))
    again = weigh(where)
    assert again.finished.progress.done == 41
    assert again.finished.progress.kept >= 41 - 4 * 8
    assert 0 < again.finished.dropped <= 4 * 8
    fresh = weigh(where, out="fresh", chunk=4)
    assert all_bytes(again) == all_bytes(fresh)


def test_a_list_that_has_outgrown_its_chunks_is_cut_anew(
    weigh: Weigh, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from endbell.batch import run

    def sizes(ran: Ran) -> object:
        journal = Journal(ran.out)
        found = journal.about("chunk_size")
        journal.close()
        return found

    assert sizes(weigh(folder, chunk=4)) == 4
    monkeypatch.setattr(run, "size_for", lambda total, workers: 32)
    assert sizes(weigh(folder)) == 4
    monkeypatch.setattr(run, "size_for", lambda total, workers: 64)
    # (what is kept then depends on whether a small folder happened to be one chunk before)
    assert sizes(weigh(folder)) == 64


def test_chunks_are_cut_by_what_dossiers_say() -> None:
    items = [FileItem(f"{n}", str(n).encode()) for n in range(500)]
    chunks = [chunk.content for chunk in cut(items, 8)]
    assert sum(len(chunk.items) for chunk in cut(items, 8)) == 500
    assert all(4 <= len(chunk.items) <= 16 for chunk in list(cut(items, 8))[:-1])
    more = [chunk.content for chunk in cut([*items[:100], FileItem("new", b"x"), *items[100:]], 8)]
    assert len(set(more) - set(chunks)) <= 3


def test_other_assumptions_weigh_everything_anew(weigh: Weigh, folder: Path) -> None:
    weigh(folder)
    other = replace(SETTINGS, assume=(("replaced.loudspeaker.probability", 0.6),))
    again = weigh(folder, settings=other)
    assert again.finished.progress.kept == 0
    about = json.loads((again.out / "batch.json").read_text())
    assert about["assumptions"] == {"replaced.loudspeaker.probability": 0.6}


def shop_pack(folder: Path, median: float) -> Path:
    (folder / "shop").mkdir(parents=True, exist_ok=True)
    (folder / "shop" / "pack.toml").write_text(
        f"""format = "endbell-pack/1"
id = "shop"
version = "1"
title = "Two Rivers"
builds_on = ["brackwater"]

[[assumption]]
name = "lag.output-transformer.median_weeks"
value = {median}
unit = "weeks"
source = "invented"
confidence = "invented world"
""",
        encoding="utf-8",
    )
    return folder


def test_a_changed_pack_is_noticed_where_it_is_used(weigh: Weigh, tmp_path: Path) -> None:
    where = tmp_path / "in"
    where.mkdir()
    for n in range(12):
        named = 'packs = ["shop"]\n' if n > 7 else ""
        text = named + toml(f"{n:02d}", COLLECTION["TR-1"][:1], f"19{n + 50}")
        (where / f"{n:02d}.toml").write_text(text)
    packs = shop_pack(tmp_path / "packs", 9.0)
    settings = replace(SETTINGS, search=(str(packs),))
    first = weigh(where, settings=settings, chunk=4)
    before = first.by_id()
    assert not first.bad
    shop_pack(packs, 14.0)
    again = weigh(where, settings=settings)
    assert 0 < again.finished.progress.other_packs == 12 - again.finished.progress.kept < 12
    changed = {name for name, row in again.by_id().items() if row != before[name]}
    assert changed == {"08", "09", "10", "11"}


# ---- whose folder it is


def test_two_commands_can_not_write_in_one_folder(tmp_path: Path) -> None:
    one = open_journal(tmp_path / "out")
    with pytest.raises(FolderInUse, match="another endbell is at work there"):
        open_journal(tmp_path / "out")
    one.close()
    open_journal(tmp_path / "out").close()


def test_what_another_endbell_weighed_is_weighed_anew_and_said(
    weigh: Weigh, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from endbell.batch import journal, run

    first = weigh(folder)
    assert first.finished.made_by is None
    for module in (journal, run):
        monkeypatch.setattr(module, "made_by", lambda: "9.9+0")
    monkeypatch.setattr(run._Run, "_check", lambda self, weighed: None)
    again = weigh(folder)
    assert again.finished.progress.kept == 0
    assert again.finished.made_by == made_by()


def test_results_of_something_else_are_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "verdicts.csv").write_text("mine")
    with pytest.raises(OtherFolder, match="no journal belongs to"):
        open_journal(tmp_path)
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / journals.FILE).write_text("no database, but long enough to be one" * 50)
    with pytest.raises(OtherFolder, match="not kept by 'endbell batch'"):
        open_journal(tmp_path / "b")


def test_a_journal_of_a_later_form_is_left_alone(tmp_path: Path) -> None:
    later = open_journal(tmp_path)
    later.tell("format", "endbell-batch/9")
    later.close()
    with pytest.raises(OtherFolder, match="endbell-batch/9"):
        open_journal(tmp_path)


def test_a_seeded_folder_keeps_what_still_holds(weigh: Weigh, folder: Path) -> None:
    first = weigh(folder)
    seed(first.out, first.out.parent / "next")
    again = weigh(folder, out="next")
    assert again.finished.progress.kept == 6
    assert all_bytes(again) == all_bytes(first)


def test_a_worker_with_another_version_is_not_believed(
    weigh: Weigh, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from endbell.batch import run

    monkeypatch.setattr(run, "made_by", lambda: "9.9")
    with pytest.raises(WorkersDiffer, match=r"a worker has Endbell 0.*this is 9\.9"):
        weigh(folder)


def test_settings_name_all_that_a_verdict_depends_on() -> None:
    assert Settings().packs == ()
    keys = {
        journals.key_of("a", settings)
        for settings in (
            SETTINGS,
            replace(SETTINGS, packs=()),
            replace(SETTINGS, day="2026-03-03"),
            replace(SETTINGS, assume=(("x", 1.0),)),
        )
    }
    assert len(keys) == 4
