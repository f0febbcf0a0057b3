"""Tables of facts in ``data/``, each row with its source and confidence. No fact stands in code."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from io import StringIO

Fact = Mapping[str, str]


@cache
def facts(subject: str, table: str) -> tuple[Fact, ...]:
    """The rows of ``data/<subject>/<table>.csv`` in order, as text.

    Raises FileNotFoundError where there is no such table.
    """
    place = files(__package__ or "endbell.bench").joinpath("data", subject, f"{table}.csv")
    return tuple(csv.DictReader(StringIO(place.read_text(encoding="utf-8"))))


def fact(subject: str, table: str, key: str, column: str = "id") -> Fact:
    """The one row of a table whose ``column`` is ``key``. Raises KeyError where there is none."""
    for row in facts(subject, table):
        if row[column] == key:
            return row
    raise KeyError(f"{subject}/{table}: no row {key!r}")
