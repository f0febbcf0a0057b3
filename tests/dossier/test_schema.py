"""The JSON Schema that is shipped, the docs, and the loader say the same."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from pydantic import ValidationError

from endbell.dossier.keys import LEGIBILITIES, PURPOSES, RESULTS, TABLES
from endbell.dossier.schema import SCHEMA_FILE, dossier_model, dossier_schema
from endbell.marks import KINDS

from .test_loading import WHOLE

DOCS = Path(__file__).parents[2] / "docs" / "formats" / "dossier.md"


def test_the_shipped_schema_is_the_one_the_vocabulary_makes() -> None:
    assert SCHEMA_FILE.read_text(encoding="utf-8") == dossier_schema()


def test_the_dossier_of_the_contract_fits_the_schema() -> None:
    dossier_model().model_validate(tomllib.loads(WHOLE))


def test_a_code_typed_as_a_number_does_not_fit_the_schema() -> None:
    row = {"part": "ot", "kind": "serial", "text": 4411}
    with pytest.raises(ValidationError):
        dossier_model().model_validate({"mark": [row]}, strict=True)


def test_every_kind_and_word_is_in_the_schema() -> None:
    defs = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))["$defs"]
    assert defs["Mark"]["properties"]["kind"]["enum"] == list(KINDS)
    assert defs["Mark"]["required"] == ["part", "kind"]


@pytest.mark.parametrize("table", TABLES)
def test_every_key_is_in_the_docs(table: str) -> None:
    text = DOCS.read_text(encoding="utf-8")
    for key in TABLES[table]:
        assert f"`{key.name}`" in text
    if table:
        assert f"[{table}]" in text


def test_every_word_a_key_may_have_is_in_the_docs() -> None:
    text = DOCS.read_text(encoding="utf-8")
    for word in (*KINDS, *LEGIBILITIES, *RESULTS, *PURPOSES):
        assert f"`{word}`" in text
