"""The JSON Schemas of ``endbell-sheet/1`` (from its vocabulary) and ``endbell-bench/1``.

pydantic is imported only here and in ``result_models``.  ``python -m endbell.bench.schema`` writes
the shipped files; a test says whether they are current.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from ..dossier.keys import Key
from ..dossier.schema_parts import FORMS, Fields, attribute, schema_text, table, tables
from .result_json import FORMAT
from .result_models import Result
from .sheet_keys import FORMAT_NAME, FORMAT_NUMBER, ROWS, TABLES

FOLDER = Path(__file__).parent / "schemas"
SHEET_FILE = FOLDER / "sheet-1.json"
BENCH_FILE = FOLDER / "bench-1.json"


def sheet_schema() -> str:
    """The schema of a sheet file as text, as shipped; unknown keys are allowed, as when reading."""
    fields = _fields("")
    circuit: Any = Annotated[str, Field(pattern="^[a-z0-9-]+/[a-z0-9-]+$")] | dict[str, Any]
    words = "pack and model, or a table [circuit] of its own (endbell-circuit/1)"
    fields["circuit_"] = (circuit, Field(default=..., alias="circuit", description=words))
    fields |= {name: tables(table(name, _fields(name))) for name in ROWS}
    return schema_text(table("Sheet", fields), f"{FORMAT_NAME}/{FORMAT_NUMBER}")


def bench_schema() -> str:
    """The schema of a computed sheet as text, as shipped."""
    return schema_text(Result, FORMAT)


def _fields(name: str) -> Fields:
    return {attribute(key.name): _field(key) for key in TABLES[name]}


def _field(key: Key) -> tuple[Any, Any]:
    form = Literal[key.choices] if key.choices else FORMS[key.form]
    default: Any = ... if key.required else None
    return form, Field(default=default, alias=key.name, description=key.words)


def main() -> None:
    """Write the shipped schemas."""
    FOLDER.mkdir(exist_ok=True)
    SHEET_FILE.write_text(sheet_schema(), encoding="utf-8")
    BENCH_FILE.write_text(bench_schema(), encoding="utf-8")


if __name__ == "__main__":
    main()
