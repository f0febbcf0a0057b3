"""What the JSON Schemas of every TOML form have in common.  pydantic is imported only for them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, cast

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, create_model

from .limits import MAX_LIST, MAX_ROWS, MAX_TEXT

Fields = dict[str, Any]

TEXT: Any = Annotated[str, Field(max_length=MAX_TEXT)]
FORMS: Mapping[str, Any] = {
    "text": TEXT,
    "texts": Annotated[list[TEXT], Field(max_length=MAX_LIST)] | TEXT,
    "number": FiniteFloat,
    "text-or-number": TEXT | FiniteFloat,
    "yes-no": bool,
    "day": date,
    "edtf": TEXT | date | Annotated[int, Field(ge=1000, le=9999)],
}


def table(title: str, fields: Fields) -> Any:
    """A table as a model; unknown keys are allowed, as they are when a file is read."""
    config = ConfigDict(extra="allow", title=title, protected_namespaces=())
    made: Any = create_model(title.capitalize(), __config__=config, **fields)
    return made


def tables(row: Any) -> tuple[Any, Any]:
    """The field of tables ``[[name]]``, each a ``row``; there may be none."""
    return (Annotated[list[row], Field(max_length=MAX_ROWS)], Field(default=[]))


def attribute(name: str) -> str:
    """The name of a key's attribute: 'class', 'except' are words of Python, 'date' is a type."""
    return f"{name}_"


def schema_text(model: type[BaseModel], title: str) -> str:
    """The JSON Schema as text, as shipped."""
    schema = _without_null_defaults(model.model_json_schema())
    schema["title"] = title
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return json.dumps(head | schema, indent=2, ensure_ascii=False) + "\n"


def _without_null_defaults(node: Any) -> Any:
    """TOML has no null: a key that is left out simply isn't there."""
    if isinstance(node, dict):
        items = cast("dict[str, Any]", node).items()
        return {
            k: _without_null_defaults(v) for k, v in items if not (k == "default" and v is None)
        }
    if isinstance(node, list):
        return [_without_null_defaults(item) for item in cast("list[Any]", node)]
    return node
