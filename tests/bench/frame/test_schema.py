"""Both schemas are those of the code, and what the code reads and writes keeps to them."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from endbell.bench.compute import compute
from endbell.bench.result_json import as_bytes, as_json
from endbell.bench.schema import BENCH_FILE, SHEET_FILE, bench_schema, sheet_schema
from endbell.bench.sheet import parse_sheet

from .conftest import HEAD, SAFE, rows, small_amp

DOCS = Path(__file__).parents[3] / "docs" / "formats" / "sheet.md"
EXAMPLE = DOCS.read_text(encoding="utf-8").split("```toml\n")[1].split("```")[0]


def test_the_shipped_schemas_are_current() -> None:
    assert SHEET_FILE.read_text(encoding="utf-8") == sheet_schema()
    assert BENCH_FILE.read_text(encoding="utf-8") == bench_schema()


def told(text: str) -> object:
    """A TOML text as JSON has it: days are texts."""
    return json.loads(json.dumps(tomllib.loads(text), default=str))


def test_the_example_of_the_docs_is_a_sheet_without_a_fault() -> None:
    sheet = parse_sheet(EXAMPLE, "amp.toml")
    assert sheet.problems == ()
    assert sheet.remarks == ()
    jsonschema.validate(told(EXAMPLE), json.loads(sheet_schema()))


@pytest.mark.parametrize(
    "wrong",
    ['practice = "mine"', "[[reading]]\nvalue = 3", '[[override]]\nline = "insulation"'],
)
def test_the_schema_of_a_sheet_refuses_what_the_reader_reports(wrong: str) -> None:
    text = 'circuit = "brackwater/lantern-20"\n' + wrong
    assert parse_sheet(text).problems or parse_sheet(text).remarks
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(told(text), json.loads(sheet_schema()))


@pytest.mark.parametrize(
    "readings", [{}, SAFE, {"mains-volts": "-231 V", "rail-volts@B1": "350 V"}]
)
def test_a_result_keeps_to_its_schema_and_is_the_same_bytes_each_time(
    readings: dict[str, str],
) -> None:
    text = (
        HEAD
        + rows(readings)
        + rows({"earth-bond": "0.07 ohm"}, after=True)
        + (
            '[[override]]\nline = "insulation"\nby = "RT"\nreason = "why not"\non = 2026-03-04\n'
            '[[replaced]]\npart = "elco-1"\nkept = true\n[[fault]]\nfault = "open"\n'
        )
    )
    result = compute(parse_sheet(text), small_amp())
    jsonschema.validate(as_json(result), json.loads(bench_schema()))
    again = compute(parse_sheet(text), small_amp())
    assert as_bytes(result) == as_bytes(again)


def test_every_key_of_a_result_is_in_the_docs() -> None:
    docs = DOCS.read_text(encoding="utf-8")
    for key in json.loads(bench_schema())["properties"]:
        if key not in ("format", "endbell", "diagnosis"):
            assert f"`{key}`" in docs, key
