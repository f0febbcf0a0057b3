"""The JSON Schema of ``endbell-circuit/1``, generated from the vocabulary in ``keys``.

pydantic is imported only here.  ``python -m endbell.bench.circuits.schema`` writes the shipped
file; a test says whether that one is current.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, FiniteFloat

from ...dossier.schema_parts import TEXT, Fields, attribute, schema_text, table, tables
from .keys import FORMAT_NAME, FORMAT_NUMBER, ROWS, TABLES, Entry

SCHEMA_FILE = Path(__file__).parents[1] / "schemas" / f"circuit-{FORMAT_NUMBER}.json"


def circuit_model() -> type[BaseModel]:
    """The circuit file as a pydantic model; unknown keys are allowed, as the reader allows them."""
    rows = {name: tables(table(name, _fields(name))) for name in ROWS}
    made: type[BaseModel] = table("Circuit", _fields("") | rows)
    return made


def circuit_schema() -> str:
    """The JSON Schema as text, as shipped."""
    return schema_text(circuit_model(), f"{FORMAT_NAME}/{FORMAT_NUMBER}")


def _fields(name: str) -> Fields:
    return {attribute(entry.key.name): _field(entry) for entry in TABLES[name]}


def _field(entry: Entry) -> tuple[Any, Any]:
    key = entry.key
    form: Any = TEXT
    if key.choices:
        form = Literal[key.choices]
    elif key.name == "netlist":
        form = str
    elif key.form == "number":
        form = Annotated[int, Field(ge=1)]
    elif entry.unit:
        number: Any = FiniteFloat
        if entry.low is not None:
            number = Annotated[FiniteFloat, Field(ge=entry.low)]
        form = number | TEXT
    words = f"{key.words} ({entry.unit})" if entry.unit not in ("", "1") else key.words
    return form, Field(default=... if key.required else None, alias=key.name, description=words)


def main() -> None:
    """Write the shipped schema."""
    SCHEMA_FILE.parent.mkdir(exist_ok=True)
    SCHEMA_FILE.write_text(circuit_schema(), encoding="utf-8")


if __name__ == "__main__":
    main()
