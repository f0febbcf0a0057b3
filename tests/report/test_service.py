"""The service report as a page and as a PDF: the same words, sources numbered, a place to sign."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from endbell.bench.circuit_of import with_circuit
from endbell.bench.compute import compute
from endbell.bench.service import ServiceRecord, service_record
from endbell.bench.sheet import sheet_of
from endbell.report.service import service_page, service_pdf
from endbell.report.service_words import words_of

from .markup_check import read

SAFE = [
    {"line": "cord-kind", "value": "3"},
    {"line": "line-capacitor", "value": "0"},
    *({"line": "filter-volts-left", "at": at, "value": "0.3"} for at in ("C1", "C2", "C3")),
    {"line": "earth-bond", "value": "0.06"},
    {"line": "insulation", "value": ">200M"},
    {"line": "fuse-fitted", "value": "1 A", "note": "F"},
]
OT = {
    "part": "ot",
    "by_what": "a new one <8 kΩ>",
    "why": "one half of #primary open",
    "by": "Tomas Bench",
    "done": "2026-03-04",
    "kept": True,
    "bag": "1",
    "first": "open",
    "after": "142 Ω",
}
ESR = {"line": "capacitor-esr", "at": "C1"}


def record(practice: str = "iet", **more: Any) -> ServiceRecord:
    form = {"id": "TRV-1", "circuit": "brackwater/lantern-20", "practice": practice}
    readings = [*SAFE, {**ESR, "value": "41"}, {**ESR, "value": "0.4", "after": True}]
    sheet, circuit = with_circuit(sheet_of({**form, "reading": readings, **more}))
    handed = [{"bags": ["1"], "to": "A. Customer", "on": "2026-03-07"}]
    return service_record(
        compute(sheet, circuit),
        [OT],
        handed,
        title="Lantern 20",
        titles={"ot": "Output transformer"},
        owner="A. Customer",
    )


def text_of(pdf: bytes, folder: Path) -> str:
    tool = shutil.which("pdftotext")
    if tool is None:
        pytest.skip("pdftotext is missing (poppler-utils)")
    (folder / "it.pdf").write_bytes(pdf)
    said = subprocess.run(
        [tool, "-layout", str(folder / "it.pdf"), "-"], capture_output=True, text=True, check=True
    ).stdout
    return " ".join(said.split())


def test_the_page_is_sound_and_asks_nothing_of_the_network() -> None:
    page = service_page(record())
    assert read(page).faults == []
    assert "default-src &#x27;none&#x27;" in page or "default-src 'none'" in page
    assert "<script" not in page
    assert "a new one &lt;8 kΩ&gt;" in page


def test_the_pdf_says_what_the_page_says(tmp_path: Path) -> None:
    text = text_of(service_pdf(record()), tmp_path)
    for words in (
        "Service report",
        "TRV-1 · Lantern 20",
        "#primary",
        "<8 kΩ>",
        "put right",
        "Removed parts: custody record",
        "Received by (name, signature)",
        "A. Customer, 2026-03-07",
        "Local codes and licensed practice override everything on this sheet",
    ):
        assert words in text, words


def test_the_same_record_gives_the_same_bytes() -> None:
    assert service_pdf(record()) == service_pdf(record())


def test_every_limit_names_its_source_and_one_from_memory_says_so() -> None:
    words = words_of(record("us"))
    rows = {row[0]: row for stage in words["stages"] for row in stage["rows"]}
    bond = rows["Earth pin to chassis"]
    assert bond[2] == "check the standard"
    assert "limit from memory: check the standard" in bond[4]
    left = rows["Voltage left on a filter capacitor at C1"]
    assert "[1]" in left[4]
    assert words["sources"][0]


def test_before_and_after_stand_beside_each_other() -> None:
    changes = words_of(record())["changes"]
    assert [
        "Series resistance of a capacitor at C1",
        "41 Ω (high)",
        "400 mΩ (within)",
        "put right",
    ] in (changes)


def test_without_a_bag_there_is_no_custody_record(tmp_path: Path) -> None:
    form = {"id": "TRV-1", "circuit": "brackwater/lantern-20", "practice": "iet"}
    sheet, circuit = with_circuit(sheet_of(form))
    empty = service_record(compute(sheet, circuit))
    assert "custody" not in service_page(empty)
    assert "custody" not in text_of(service_pdf(empty), tmp_path)


def test_nothing_measured_is_said_so() -> None:
    form = {"id": "TRV-1", "circuit": "brackwater/wick-6", "practice": "iet"}
    sheet, circuit = with_circuit(sheet_of(form))
    words = words_of(service_record(compute(sheet, circuit)))
    assert "Not everything was measured" in words["headline"]
    assert words["missing"]
