"""What a line is held against: rows of ``data/limits/*.csv``, each with where it comes from.

Local codes and licensed practice override every one of them.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from io import StringIO

from .lines import Bound

PRACTICES: Mapping[str, str] = {
    "iec": "international standards (IEC)",
    "iet": "in-service inspection and testing (IET)",
    "vde": "testing after repair (VDE)",
    "us": "service practice of the United States",
}
"""Whose limits a sheet can ask for."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A row of the limits. ``practice``: '' any; ``applies``: '' any, or a protection class.

    ``unit``: the SI symbol of the line. ``note``: what has to be said of the row.
    """

    id: str
    line: str
    practice: str
    applies: str
    unit: str
    bound: Bound
    note: str = ""


@cache
def limits() -> tuple[Limit, ...]:
    """Every limit, files by name, rows in the order of the file.

    Raises ValueError where a row cannot be read: the files are part of the program.
    """
    found: list[Limit] = []
    folder = files(__package__ or "endbell.bench").joinpath("data", "limits")
    for item in sorted(folder.iterdir(), key=lambda item: item.name):
        if not item.name.endswith(".csv"):
            continue
        table = csv.DictReader(StringIO(item.read_text(encoding="utf-8")))
        for number, row in enumerate(table, start=2):
            found.append(_limit(f"{item.name}, line {number}", row))
    return tuple(found)


@cache
def bounds_for(line: str, practice: str = "", applies: str = "") -> tuple[Bound, ...]:
    """The bounds of ``line`` for a practice and a protection class ('I', 'II', '0').

    A row without practice or class holds for all; nothing there gives an empty tuple.
    """
    return tuple(
        limit.bound
        for limit in _by_line().get(line, ())
        if limit.practice in ("", practice) and limit.applies in ("", applies)
    )


@cache
def _by_line() -> Mapping[str, tuple[Limit, ...]]:
    found: dict[str, tuple[Limit, ...]] = {}
    for limit in limits():
        found[limit.line] = (*found.get(limit.line, ()), limit)
    return found


def _limit(where: str, row: Mapping[str, str]) -> Limit:
    try:
        bound = Bound(
            low=_figure(row["low"]),
            high=_figure(row["high"]),
            title=row["title"],
            source=_source(row),
            confidence=row["confidence"],
        )
        limit = Limit(
            id=row["id"],
            line=row["line"],
            practice=row["practice"],
            applies=row["applies"],
            unit=row["unit"],
            bound=bound,
            note=row["note"],
        )
    except (KeyError, ValueError) as error:
        raise ValueError(f"{where}: {error}") from error
    if bound.low is None and bound.high is None:
        raise ValueError(f"{where}: neither low nor high")
    if limit.practice not in ("", *PRACTICES):
        raise ValueError(f"{where}: practice {limit.practice!r} is none of {tuple(PRACTICES)}")
    return limit


def _figure(text: str) -> float | None:
    return float(text) if text.strip() else None


def _source(row: Mapping[str, str]) -> str:
    standard = ", ".join(part for part in (row["standard"], row["clause"]) if part)
    source = row["source"]
    if source in ("memory", "from memory"):
        return f"{standard} (from memory: check the standard)" if standard else "from memory"
    return f"{standard} ({source})" if standard and source else standard or source
