"""The JSON Schema that editors use is the one the checks use."""

import json

import pytest
from pydantic import TypeAdapter

from endbell.reference.combine import SHIPPED
from endbell.reference.files import read_pack
from endbell.reference.schema import PackFile
from endbell.reference.tables import TABLES
from endbell.reference.validate import FORMS, SCHEMA, schema_text


def test_the_schema_shipped_is_current() -> None:
    assert SCHEMA.read_text("utf-8") == schema_text()


def test_every_table_that_is_read_has_a_form_and_every_form_a_reader() -> None:
    assert set(FORMS) == set(TABLES)


def test_the_schema_names_every_table_and_asks_for_a_source() -> None:
    schema = json.loads(SCHEMA.read_text("utf-8"))
    assert set(TABLES) <= set(schema["properties"])
    for name, form in schema["$defs"].items():
        assert {"source", "confidence"} <= set(form["required"]), name


@pytest.mark.parametrize("path", sorted(SHIPPED.glob("*/*.toml")), ids=str)
def test_a_shipped_toml_file_is_accepted_as_a_whole(path) -> None:
    import tomllib

    TypeAdapter(PackFile).validate_python(tomllib.loads(path.read_text("utf-8")))


def test_every_table_is_used_by_a_shipped_pack_so_that_it_can_be_copied() -> None:
    used = {row.table for folder in SHIPPED.iterdir() for row in read_pack(folder).rows}
    assert used == set(TABLES) - {"source_number"}
