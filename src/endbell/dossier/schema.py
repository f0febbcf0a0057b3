"""The JSON Schema of ``endbell-dossier/1``, generated from the vocabulary in ``keys``.

pydantic is imported only here: reading a dossier does not need it.  ``python -m
endbell.dossier.schema`` writes the shipped file; a test says whether that one is current.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, Field

from ..marks import KINDS
from .keys import FORMAT_NAME, FORMAT_NUMBER, ROWS, TABLES, Key
from .schema_parts import FORMS, Fields, attribute, schema_text, table, tables

SCHEMA_FILE = Path(__file__).parent / "schemas" / f"{FORMAT_NUMBER}.json"


def dossier_model() -> type[BaseModel]:
    """The dossier file as a pydantic model; unknown keys are allowed, as the loader allows them."""
    rows = {name: table(name, _fields(name)) for name in ROWS}
    fields = _fields("")
    fields["known"] = (
        table("known", _fields("known")),
        Field(default=None, description="from reference works or the shop's own knowledge"),
    )
    claim = table("claim", _fields("claim"))
    fields["claim"] = (claim, Field(default=None, description="who says it is what"))
    fields |= {name: tables(model) for name, model in rows.items()}
    made: type[BaseModel] = table("Dossier", fields)
    return made


def dossier_schema() -> str:
    """The JSON Schema as text, as shipped."""
    return schema_text(dossier_model(), f"{FORMAT_NAME}/{FORMAT_NUMBER}")


def _fields(name: str) -> Fields:
    return {attribute(key.name): _field(name, key) for key in TABLES[name]}


def _field(name: str, key: Key) -> tuple[Any, Any]:
    form = FORMS[key.form]
    if key.choices:
        form = Literal[key.choices]
    if (name, key.name) == ("mark", "kind"):
        form = Literal[tuple(KINDS)]
    default: Any = ... if key.required else None
    return form, Field(default=default, alias=key.name, description=key.words)


def main() -> None:
    """Write the shipped schema."""
    SCHEMA_FILE.parent.mkdir(exist_ok=True)
    SCHEMA_FILE.write_text(dossier_schema(), encoding="utf-8")


if __name__ == "__main__":
    main()
