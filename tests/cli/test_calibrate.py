"""``endbell calibrate``: figures as JSON, a page and pictures by the command alone, taken up again."""

from __future__ import annotations

import importlib.util
import json
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from types import ModuleType
from typing import Any

import jsonschema
import pytest

from endbell.cli import calibrate, calibrating
from endbell.learning import calibration
from endbell.learning.calibration import Job
from endbell.reference import Reference, load_reference
from endbell.report import calibration_pictures
from endbell.report.calibration_page import calibration_page

from .conftest import Ran, Run, one_sentence

ROOT = Path(__file__).parents[2]
SMALL = ("calibrate", "--n", "20", "--workers", "0", "--packs", "none", "--scenario", "lags-double")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Chunks already weighed, for the tests that ask for the same ones."""
    return tmp_path_factory.mktemp("work")


@pytest.fixture(autouse=True)
def same_code(monkeypatch: pytest.MonkeyPatch) -> None:
    """The code stays what it is while the tests run, whoever is writing at it."""
    monkeypatch.setattr(calibrating, "code_mark", lambda *rooms: "this code")


@pytest.fixture
def small(run: Run, kept: Path) -> Ran:
    """20 dossiers as stated, 20 of longer lags, as JSON and written to a folder."""
    return run(*SMALL, "--work", str(kept), "--out", "docs", "--json")


@pytest.fixture(scope="module")
def common() -> Reference:
    """What holds for any valve amp."""
    return load_reference(())[0]


def tool() -> ModuleType:
    name = "calibration_schema"
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def closed(node: Any) -> Any:
    """The same schema with every unknown key refused."""
    if isinstance(node, dict):
        inner = {key: closed(value) for key, value in node.items()}
        return inner | {"additionalProperties": False} if "properties" in inner else inner
    return [closed(item) for item in node] if isinstance(node, list) else node


def test_the_figures_come_by_world(small: Ran) -> None:
    assert small.status == 0
    form = small.json
    runs = ["none/as-stated", "none/lags-double"]
    for key in ("coverage", "rank_inside_99", "ece", "log_score", "runs"):
        assert list(form[key]) == runs, key
    for run in runs:
        assert 0.3 <= form["coverage"][run]["0.80"] <= 1.0
        assert form["log_score"][run]["engine"] <= 0.0
    assert form["rank_inside_99"]["none/as-stated"] is True
    assert form["n"] == form["runs"][runs[0]]["n"] == 20


def test_what_is_printed_fits_the_schema_and_has_no_key_beside_it(small: Ran) -> None:
    judge = jsonschema.Draft202012Validator(closed(tool().schema()))
    faults = [f"{list(f.path)}: {f.message}" for f in judge.iter_errors(small.json)]
    assert faults == []
    assert not judge.is_valid(small.json | {"coverage": {"none/as-stated": 0.9}})


def test_the_schema_of_calibrations_is_current() -> None:
    assert tool().SCHEMA.read_text(encoding="utf-8") == tool().text(), "make docs"


def test_every_key_of_a_calibration_is_explained() -> None:
    page = (ROOT / "docs" / "formats" / "calibration.md").read_text(encoding="utf-8")
    schema = tool().schema()
    forms = [schema, *schema["$defs"].values()]
    keys = {key for form in forms for key in form.get("properties", {})}
    assert sorted(key for key in keys if f"`{key}`" not in page and f'`"{key}"`' not in page) == []


def test_page_figures_and_pictures_are_written(small: Ran, tmp_path: Path) -> None:
    docs = tmp_path / "docs"
    assert json.loads((docs / "calibration.json").read_text()) == small.json
    page = (docs / "calibration.md").read_text(encoding="utf-8")
    assert small.json["command"] in page
    assert "--scenario lags-double" in small.json["command"]
    for bar in small.json["bars"]:
        assert bar["what"] in page
    for name in calibration_pictures.PICTURES:
        assert f"pictures/{name}.svg" in page
        assert (docs / "pictures" / f"{name}.svg").read_text().startswith("<svg")
        spec = json.loads((docs / "pictures" / f"{name}.vl.json").read_text())
        assert "vega-lite" in spec["$schema"]
        assert spec["description"]


def test_the_page_is_made_of_the_figures_alone(small: Ran, tmp_path: Path) -> None:
    form = json.loads((tmp_path / "docs" / "calibration.json").read_text())
    assert calibration_page(form) == (tmp_path / "docs" / "calibration.md").read_text("utf-8")


def test_a_page_in_the_docs_is_the_one_its_figures_make() -> None:
    page, figures = (ROOT / "docs" / f"calibration.{end}" for end in ("md", "json"))
    if not page.exists():
        pytest.skip("no calibration was kept with the documents")
    assert calibration_page(json.loads(figures.read_text("utf-8"))) == page.read_text("utf-8")


def test_what_is_missed_is_said_with_what_would_mend_it(small: Ran) -> None:
    form = small.json
    form["bars"].append(
        {
            "run": "none/lags-double",
            "what": "95% sets that hold the truth",
            "figure": 0.7,
            "wanted": "≥ 0.78",
            "met": False,
            "why": "",
        }
    )
    form["mends"] = [
        {
            "run": "none/lags-double",
            "words": "`lag.*.median_weeks` × 2",
            "n": 20,
            "coverage": [0.7, 0.95],
            "log_score": [-1.0, -0.5],
            "names_year": [0.5, 0.6],
        }
    ]
    page = calibration_page(form)
    assert "- **no maker's pack: lags × 2**: 95% sets that hold the truth: 0.7000" in page
    assert "| `lag.*.median_weeks` × 2 | 20 | 0.700 | 0.950 |" in page


def test_without_the_libraries_that_draw_the_page_is_written_all_the_same(
    small: Ran, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "altair", None)
    calibrate.write(small.json, tmp_path / "bare")
    assert "the extra 'documents'" in capsys.readouterr().err
    page = (tmp_path / "bare" / "calibration.md").read_text("utf-8")
    assert "pictures/" not in page
    assert "## Sets" in page


def test_finished_chunks_are_not_weighed_again(
    run: Run, kept: Path, small: Ran, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(self: object, chunk: object) -> None:
        raise AssertionError(f"weighed again: {chunk}")

    monkeypatch.setattr(calibrating.Bench, "__call__", never)
    again = run(*SMALL, "--work", str(kept), "--out", "docs", "--json")
    assert again.json == small.json


def test_a_run_that_was_stopped_goes_on_with_the_same_figures(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(calibrating, "CHUNK", 8)
    arguments = ("calibrate", "--n", "20", "--workers", "0", "--packs", "none")
    stated = (*arguments, "--scenario", "as-stated", "--json")
    really, done = calibrating.Bench.__call__, []

    def stopping(self: calibrating.Bench, chunk: Any) -> Any:
        if len(done) == 2:
            raise KeyboardInterrupt
        done.append(chunk)
        return really(self, chunk)

    monkeypatch.setattr(calibrating.Bench, "__call__", stopping)
    stopped = run(*stated)
    assert stopped.status == 2
    assert "the same command goes on from there" in stopped.err
    assert len(list(Path("calibration-work").rglob("*.npz"))) == 2
    monkeypatch.setattr(calibrating.Bench, "__call__", lambda b, c: done.append(c) or really(b, c))
    gone_on = run(*stated)
    assert len(done) == 3
    assert gone_on.json["runs"] == run(*stated, "--work", "fresh").json["runs"]


def test_a_world_that_falls_short_is_weighed_again_with_what_ought_to_mend_it(
    run: Run, kept: Path, small: Ran, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(calibration, "missed", lambda bars: {"none/lags-double": []})
    mends = run(*SMALL, "--work", str(kept), "--json").json["mends"]
    assert [mend["words"].split(":")[0] for mend in mends] == [
        "`lag.*.median_weeks` × 2",
        "more room for all lags of an amp together",
    ]
    for mend in mends:
        assert mend["n"] == 20
        assert mend["coverage"][0] == small.json["coverage"]["none/lags-double"]["0.95"]
        assert mend["log_score"][0] != mend["log_score"][1]


def test_processes_find_what_one_alone_finds(run: Run) -> None:
    arguments = ("calibrate", "--n", "20", "--packs", "none", "--scenario", "as-stated", "--json")
    alone = run(*arguments, "--workers", "0", "--work", "alone")
    together = run(*arguments, "--workers", "2", "--work", "together")
    assert together.json == alone.json


def test_another_seed_draws_other_dossiers(run: Run, small: Ran) -> None:
    other = run(*SMALL, "--seed", "2", "--json")
    assert other.json["log_score"] != small.json["log_score"]


def test_chunks_of_another_program_pack_or_world_are_never_taken_up(
    common: Reference, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = Job((), "as-stated", 1, date(2026, 1, 1))
    stamps = {(): common.packs, ("shop",): common.packs[:1]}
    jobs = [
        job,
        replace(job, seed=2),
        replace(job, scenario="lags-half"),
        replace(job, scenario="lags-half", mend=0),
        replace(job, as_of=date(2025, 1, 1)),
        replace(job, packs=("shop",)),
    ]
    places = {calibrating.Work(tmp_path, stamps).place(j, 0, 200) for j in jobs}
    other_pack = {(): (replace(common.packs[0], sha256="0" * 64), *common.packs[1:])}
    places.add(calibrating.Work(tmp_path, other_pack).place(job, 0, 200))
    monkeypatch.setattr(calibrating, "code_mark", lambda *rooms: "other code")
    places.add(calibrating.Work(tmp_path, stamps).place(job, 0, 200))
    assert len(places) == len(jobs) + 2
    assert len({place.parent for place in places}) == len(places)


def test_an_unknown_world_is_refused_with_the_nearest(run: Run) -> None:
    refused = run("calibrate", "--scenario", "lags-doubled")
    assert refused.status == 2
    assert one_sentence(refused.err)
    assert "lags-double" in refused.err


def test_too_few_dossiers_are_refused(run: Run) -> None:
    assert run("calibrate", "--n", "5").status == 2
