"""A dossier's tables written as a dossier file, as the engine and a person read it."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from datetime import date
from typing import Any, cast

import tomlkit

from ..dossier.keys import KEYS

DAYS = frozenset(
    (table, key.name) for table, keys in KEYS.items() for key in keys.values() if key.form == "day"
)
"""Keys that hold one day: a file writes them as a TOML day, not as a text."""

ORDER = ("known", "claim", "part", "repair", "mark")


def file_of(form: Mapping[str, Any], day: str = "") -> str:
    """The text of the file.

    ``day``: ISO; written as ``as_of`` where neither the form nor a mark gives a day, so that the
    file is weighed as the workbench weighs it.
    """
    document = tomlkit.document()
    for key, value in form.items():
        if not isinstance(value, dict) and not _is_rows(value):
            document.add(key, _item("", key, value))
    rows = cast("list[Mapping[str, Any]]", form.get("mark", []))
    if day and "as_of" not in form and not any(row.get("on") for row in rows):
        document.add("as_of", tomlkit.item(date.fromisoformat(day)))
    names = [*ORDER, *(name for name in form if name not in ORDER)]
    for name in names:
        value = form.get(name)
        if isinstance(value, dict):
            document.add(name, _table(name, cast("Mapping[str, Any]", value)))
        elif _is_rows(value):
            tables = tomlkit.aot()
            for row in cast("list[Mapping[str, Any]]", value):
                tables.append(_table(name, row))
            document.add(name, tables)
    return tomlkit.dumps(document)


def _is_rows(value: object) -> bool:
    if not isinstance(value, list) or not value:
        return False
    return all(isinstance(row, dict) for row in cast("list[object]", value))


def _table(name: str, row: Mapping[str, Any]) -> Any:
    table = tomlkit.table()
    for key, value in row.items():
        if value is not None:
            table.add(key, _item(name, key, value))
    return table


def _item(table: str, key: str, value: object) -> Any:
    if (table, key) in DAYS and isinstance(value, str):
        with suppress(ValueError):  # what was typed is kept, day or not
            return tomlkit.item(date.fromisoformat(value.strip()))
    if isinstance(value, list | tuple):
        array = tomlkit.array()
        array.extend(cast("list[object]", list(cast("list[object]", value))))
        return array
    return tomlkit.item(value)
