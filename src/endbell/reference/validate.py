"""Rows against the form of a pack, and that form as a JSON Schema.

Every problem of a row is reported, each with the line it stands on; the rules that the form can't
say (a window that ends before it begins, rows that sum to one) are left to the builders.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import get_args

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from .errors import PackProblem
from .files import RawRow
from .row_form import RowForm
from .schema import PackFile

SCHEMA = Path(__file__).parent / "schemas" / "pack-1.json"


def _forms() -> dict[str, type[RowForm]]:
    found: dict[str, type[RowForm]] = {}
    for name, info in PackFile.model_fields.items():
        inner = get_args(info.annotation)
        if inner and isinstance(inner[0], type) and issubclass(inner[0], RowForm):
            found[info.alias or name] = inner[0]
    return found


FORMS = _forms()
"""The form of a row, by the name of its table."""


def row_problems(row: RawRow) -> list[PackProblem]:
    """Everything in a row that its form does not accept; empty for a good row."""
    form = FORMS[row.table]
    values = {key: value for key, value in row.values.items() if value != ""}
    try:
        form.model_validate(values)
    except ValidationError as error:
        return [row.problem(*_found_and_accepted(form, item)) for item in _first_of_each_key(error)]
    return []


def _first_of_each_key(error: ValidationError) -> list[ErrorDetails]:
    """A cell of a kind that may be this or that gives an error for each; one is enough."""
    first: dict[object, ErrorDetails] = {}
    for item in error.errors(include_url=False):
        first.setdefault(item["loc"][:1], item)
    return list(first.values())


def _found_and_accepted(form: type[RowForm], item: ErrorDetails) -> tuple[str, str, str]:
    key = str(item["loc"][0])
    keys = {info.alias or name: info for name, info in form.model_fields.items()}
    if item["type"] == "extra_forbidden":
        return f"the key '{key}'", f"the keys {', '.join(keys)}", key
    accepted = keys[key].description or "a text"
    if item["type"] == "missing":
        return f"no '{key}'", accepted, key
    return f"{key} = {item['input']!r}", accepted, key


def schema_text() -> str:
    """The JSON Schema of a pack's files, as it is shipped."""
    schema = PackFile.model_json_schema(by_alias=True)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    return json.dumps(schema, indent=1, ensure_ascii=False) + "\n"


def write_schema(path: Path = SCHEMA) -> None:
    """Write the JSON Schema where it is shipped from."""
    path.write_text(schema_text(), "utf-8")
