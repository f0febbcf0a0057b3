"""A small collection as files, as archives and as a table; batches of it, in this process."""

from __future__ import annotations

import csv
import io
import tarfile
import zipfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from endbell.batch import packs, weigher
from endbell.batch.inputs import open_inputs
from endbell.batch.outputs import BAD_ROWS, VERDICTS_CSV, read_verdicts
from endbell.batch.packs import Packs, Settings
from endbell.batch.run import Finished, Plan, Progress, open_journal, run
from endbell.dossier.parts import known_part
from endbell.reference import load_reference

Marks = Sequence[tuple[str, str, str]]

SETTINGS = Settings(packs=("brackwater",), day="2026-03-02")

COLLECTION: dict[str, Marks] = {
    "TR-1": [("ot", "source-date-code", "993-348"), ("pot-1", "source-date-code", "992-341")],
    "TR-2": [("ot", "source-date-code", "993-3?8"), ("pot-1", "source-date-code", "992-354")],
    "TR-3": [("sp-1", "source-date-code", "995-402"), ("chart", "chart-letters", "WF")],
    "TR-4": [("pt", "source-date-code", "993-313"), ("pott", "source-date-code", "992-341")],
    "TR-5": [("pot-1", "source-date-code", "992-512"), ("pot-2", "source-date-code", "992-513")],
    "TR-6": [("choke", "source-date-code", "993-651"), ("cap-1", "date-code", "6412")],
}
"""Six dossiers; a week 54 in TR-2 and a part that is none in TR-4 can't be weighed."""


def toml(name: str, marks: Marks, built: str = "1964") -> str:
    lines = [f'id = "{name}"', "[claim]", f'built = "{built}"', 'original = ["everything"]']
    for part, kind, text in marks:
        lines += ["[[mark]]", f'part = "{part}"', f'kind = "{kind}"', f'text = "{text}"']
    return "\n".join(lines) + "\n"


def rows() -> list[dict[str, str]]:
    """The collection as a table, one row a mark."""
    return [
        {"dossier": name, "part": part, "kind": kind, "text": text,
         "claim.built": "1964", "claim.original": "everything", "n": str(n)}
        for name, marks in COLLECTION.items()
        for n, (part, kind, text) in enumerate(marks, start=1)
    ]  # fmt: skip


def write_table(file: Path, found: Iterable[dict[str, str]], **how: Any) -> Path:
    found = list(found)
    with open(file, "w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(found[0]), **how)
        writer.writeheader()
        writer.writerows(found)
    return file


def write_folder(folder: Path) -> Path:
    folder.mkdir(parents=True)
    for name, marks in COLLECTION.items():
        (folder / f"{name}.toml").write_text(toml(name, marks), encoding="utf-8")
    return folder


def pack(folder: Path, file: Path) -> Path:
    """A folder as an archive of the kind that the name of ``file`` says."""
    inside = sorted(p for p in folder.rglob("*") if p.is_file())
    if file.suffix == ".zip":
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in inside:
                archive.write(path, path.relative_to(folder).as_posix())
        return file
    form = {".tar": "", ".gz": "gz", ".tgz": "gz", ".xz": "xz", ".bz2": "bz2"}[file.suffix]
    with tarfile.open(file, f"w:{form}") as archive:
        for path in inside:
            info = tarfile.TarInfo(path.relative_to(folder).as_posix())
            info.size = path.stat().st_size
            archive.addfile(info, io.BytesIO(path.read_bytes()))
    return file


@dataclass(frozen=True, slots=True)
class Ran:
    """A finished batch: its folder, what was found, its rows as texts."""

    out: Path
    finished: Finished
    told: list[Progress]

    @property
    def rows(self) -> list[dict[str, str]]:
        return list(read_verdicts(self.out / VERDICTS_CSV))

    @property
    def bad(self) -> list[dict[str, str]]:
        return list(read_verdicts(self.out / BAD_ROWS))

    def by_id(self, *without: str) -> dict[str, dict[str, str]]:
        """The rows by dossier, without some of their columns."""
        return {
            row["dossier"]: {k: v for k, v in row.items() if k not in ("dossier", *without)}
            for row in self.rows
        }


Weigh = Callable[..., Ran]


def _shipped(ids: tuple[str, ...], search: tuple[Path, ...]) -> Any:
    """Shipped packs are read once for all tests."""
    return load_reference(ids, search) if search else _once(ids)


_once = cache(load_reference)


@pytest.fixture(scope="session")
def reached() -> dict[str, Any]:
    """Verdicts already reached: the same dossier, packs and assumptions are weighed once."""
    return {}


@pytest.fixture
def weigh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, reached: dict[str, Any]) -> Weigh:
    """``weigh(path, ...)``: a batch in this process, into ``tmp_path / "out"``."""
    really = weigher.brief

    def brief(dossier: Any, reference: Any, assume: Any, *, workspace: Any) -> Any:
        nowhere = replace(dossier, file="", problems=())
        key = repr((nowhere, reference.packs, sorted(assume.items())))
        if key not in reached:
            reached[key] = really(nowhere, reference, assume, workspace=workspace)
        found = reached[key]
        misfits = (replace(problem, file=dossier.file) for problem in found.not_weighed)
        return replace(found, file=dossier.file, not_weighed=(*dossier.problems, *misfits))

    monkeypatch.setattr(weigher, "brief", brief)
    monkeypatch.setattr(packs, "load_reference", _shipped)

    def weigh(
        *paths: Path,
        out: str = "out",
        workers: int = 0,
        settings: Settings = SETTINGS,
        tell: Callable[[Progress], None] = lambda progress: None,
        given: dict[str, str] | None = None,
        chunk: int | None = None,
        scheduler: str | None = None,
    ) -> Ran:
        reference = Packs(settings).reference(())
        inputs = open_inputs(paths, lambda text: known_part(text, reference) is not None, given)
        total = inputs.look()
        told: list[Progress] = []

        def heard(progress: Progress) -> None:
            told.append(progress)
            tell(progress)

        journal = open_journal(tmp_path / out)
        try:
            if chunk is not None:
                journal.tell("chunk_size", chunk)
            plan = Plan(inputs, settings, tmp_path / out, workers, total, scheduler)
            return Ran(tmp_path / out, run(plan, journal, heard), told)
        finally:
            journal.close()

    return weigh


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_folder(tmp_path / "collection")
