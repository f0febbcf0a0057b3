"""The JSON Schema of ``endbell-dossier/1``, generated from the vocabulary in ``keys``.

pydantic is imported only here: reading a dossier does not need it.  ``python -m
endbell.dossier.schema`` writes the shipped file; a test says whether that one is current.
"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal, cast

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, create_model

from ..marks import KINDS
from .keys import FORMAT_NAME, FORMAT_NUMBER, ROWS, TABLES, Key
from .limits import MAX_LIST, MAX_ROWS, MAX_TEXT

SCHEMA_FILE = Path(__file__).parent / "schemas" / f"{FORMAT_NUMBER}.json"

_TEXT: Any = Annotated[str, Field(max_length=MAX_TEXT)]
_FORMS: dict[str, Any] = {
    "text": _TEXT,
    "texts": Annotated[list[_TEXT], Field(max_length=MAX_LIST)] | _TEXT,
    "number": FiniteFloat,
    "text-or-number": _TEXT | FiniteFloat,
    "yes-no": bool,
    "day": date,
    "edtf": _TEXT | date | Annotated[int, Field(ge=1000, le=9999)],
}


def dossier_model() -> type[BaseModel]:
    """The dossier file as a pydantic model; unknown keys are allowed, as the loader allows them."""
    rows = {name: _table(name) for name in ROWS}
    fields = _fields("")
    fields["known"] = (
        _table("known"),
        Field(default=None, description="from reference works or the shop's own knowledge"),
    )
    fields["claim"] = (_table("claim"), Field(default=None, description="who says it is what"))
    for name, model in rows.items():
        fields[name] = (Annotated[list[model], Field(max_length=MAX_ROWS)], Field(default=[]))  # type: ignore[valid-type]
    made: Any = create_model("Dossier", __config__=_config("Dossier"), **fields)
    return made


def dossier_schema() -> str:
    """The JSON Schema as text, as shipped."""
    schema = _without_null_defaults(dossier_model().model_json_schema())
    schema["title"] = f"{FORMAT_NAME}/{FORMAT_NUMBER}"
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


def _table(name: str) -> type[BaseModel]:
    made: Any = create_model(name.capitalize(), __config__=_config(name), **_fields(name))
    return made


def _config(title: str) -> ConfigDict:
    return ConfigDict(extra="allow", title=title, protected_namespaces=())


def _fields(table: str) -> dict[str, Any]:
    return {_attribute(key.name): _field(table, key) for key in TABLES[table]}


def _field(table: str, key: Key) -> tuple[Any, Any]:
    form = _FORMS[key.form]
    if key.choices:
        form = Literal[key.choices]
    if (table, key.name) == ("mark", "kind"):
        form = Literal[tuple(KINDS)]
    default: Any = ... if key.required else None
    return form, Field(default=default, alias=key.name, description=key.words)


def _attribute(name: str) -> str:
    # 'class', 'except' are words of Python and 'date' would hide the type
    return f"{name}_"


def main() -> None:
    """Write the shipped schema."""
    SCHEMA_FILE.parent.mkdir(exist_ok=True)
    SCHEMA_FILE.write_text(dossier_schema(), encoding="utf-8")


if __name__ == "__main__":
    main()
