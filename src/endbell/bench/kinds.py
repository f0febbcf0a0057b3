"""Every kind of line there is, read from ``data/lines/*.csv``; a subject brings a file, no code."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from io import StringIO
from math import isfinite
from types import MappingProxyType

from .lines import LineKind
from .stages import Stage

UNITS = ("V", "A", "ohm", "s", "W", "J", "F", "H", "Hz", "dB", "m", "K", "1")
"""The SI symbols in which values of lines are kept."""

_YES_NO = {"true": True, "false": False}


@cache
def line_kinds() -> Mapping[str, LineKind]:
    """Kinds of line by id, subjects in the order of their names, rows in the order of the file.

    Raises ValueError where a row cannot be read or an id stands twice: the files are part of the
    program.
    """
    return MappingProxyType({kind.id: kind for _, kind in _rows()})


@cache
def line_subjects() -> Mapping[str, str]:
    """The subject (name of the file) of each kind of line."""
    return MappingProxyType({kind.id: subject for subject, kind in _rows()})


@cache
def _rows() -> tuple[tuple[str, LineKind], ...]:
    found: dict[str, tuple[str, LineKind]] = {}
    folder = files(__package__ or "endbell.bench").joinpath("data", "lines")
    for item in sorted(folder.iterdir(), key=lambda item: item.name):
        if not item.name.endswith(".csv"):
            continue
        table = csv.DictReader(StringIO(item.read_text(encoding="utf-8")))
        for number, row in enumerate(table, start=2):
            where = f"{item.name}, line {number}"
            kind = _kind(where, row)
            if kind.id in found:
                raise ValueError(f"{where}: a second line called {kind.id!r}")
            found[kind.id] = item.name.removesuffix(".csv"), kind
    return tuple(found.values())


def _kind(where: str, row: Mapping[str, str]) -> LineKind:
    try:
        kind = LineKind(
            id=row["id"],
            title=row["title"],
            stage=Stage(row["stage"]),
            unit=row["unit"],
            lowest=float(row["lowest"]),
            highest=float(row["highest"]),
            powered=_YES_NO[row["powered"] or "false"],
            measured=_YES_NO[row["measured"] or "true"],
            per=row["per"],
            needs=tuple(need.strip() for need in row["needs"].split(";") if need.strip()),
            minutes=float(row["minutes"] or 1),
            how=row["how"],
            caution=row["caution"],
            source=row["source"],
            confidence=row["confidence"],
        )
    except (KeyError, ValueError) as error:
        raise ValueError(f"{where}: {error}") from error
    if not kind.id or kind.unit not in UNITS:
        raise ValueError(f"{where}: no id, or the unit {kind.unit!r} is none of {UNITS}")
    if not (isfinite(kind.lowest) and isfinite(kind.highest) and kind.lowest < kind.highest):
        raise ValueError(f"{where}: lowest and highest are no range")
    return kind
