"""One verdict as one row: the columns of the output, and how they are filled."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from ..chronology import Brief
from ..chronology.contract_form import DIGITS

Value = str | float | int | None
Row = tuple[Value, ...]

AS_LEFT_THE_FACTORY = ("original", "probably original")


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name, 'text', 'number' or 'count', and what stands in it."""

    name: str
    form: str
    words: str


COLUMNS = (
    Column("dossier", "text", "id of the dossier"),
    Column("file", "text", "the file, archive member or table it was read from"),
    Column("as_of", "text", "the week up to which it may have been built"),
    Column("edtf", "text", "the 95% set of the build date by month, as EDTF"),
    Column("mode", "text", "the likeliest week"),
    Column("mode_year", "count", "the likeliest year"),
    Column("p_mode_year", "number", "its probability"),
    Column("first_week_95", "text", "the first week of the 95% set"),
    Column("last_week_95", "text", "its last week"),
    Column("claim_p", "number", "probability that the whole claim holds; empty: nothing to judge"),
    Column("model", "text", "the likeliest model; empty where no pack in force has models"),
    Column("p_model", "number", "its probability"),
    Column("parts", "count", "parts whose origin was judged"),
    Column("originals", "count", "parts that are original or probably original"),
    Column("married", "text", "the assembly most likely another amp's"),
    Column("p_married", "number", "the probability that it is"),
    Column("log_evidence", "number", "natural logarithm of the evidence"),
    Column("marks", "count", "marks that were weighed"),
    Column("not_weighed", "count", "rows that were not: see bad_rows.csv"),
    Column("years", "text", "every year with a chance of 0.0005 or more: 1963:0.012;1964:0.971"),
    Column("words", "text", "the word for every part, as a JSON object"),
    Column("error", "text", "why there is no verdict; empty where there is one"),
)
NAMES = tuple(column.name for column in COLUMNS)


def nine(value: float | None) -> float | None:
    """Nine significant digits, as in a verdict's JSON; None for what is no number."""
    if value is None or value != value:
        return None
    return float(f"{value:.{DIGITS}g}")


def verdict_row(found: Brief) -> Row:
    """The row of a verdict, in the order of ``COLUMNS``."""
    build = found.build
    runs = build.sets["0.95"]
    best = found.models[0] if found.models else None
    married = max(found.assemblies.items(), key=lambda a: (a[1], a[0]), default=None)
    values: Mapping[str, Value] = {
        "dossier": found.dossier,
        "file": found.file,
        "as_of": found.as_of,
        "edtf": build.edtf,
        "mode": build.mode,
        "mode_year": build.mode_year,
        "p_mode_year": nine(build.p_mode_year),
        "first_week_95": runs[0][0],
        "last_week_95": runs[-1][1],
        "claim_p": nine(found.claim.p) if found.claim is not None else None,
        "model": best.model if best is not None else None,
        "p_model": nine(best.p) if best is not None else None,
        "parts": len(found.parts),
        "originals": sum(p.word in AS_LEFT_THE_FACTORY for p in found.parts),
        "married": married[0] if married is not None else None,
        "p_married": nine(married[1]) if married is not None else None,
        "log_evidence": nine(found.log_evidence),
        "marks": found.weighed,
        "not_weighed": len(found.not_weighed),
        "years": ";".join(f"{year}:{nine(p)!r}" for year, p in sorted(build.years.items())),
        "words": json.dumps({p.part: p.word for p in found.parts}, ensure_ascii=False),
        "error": None,
    }
    return tuple(values[name] for name in NAMES)


def error_row(dossier: str, file: str, sentence: str) -> Row:
    """The row of a dossier that has no verdict."""
    values: Mapping[str, Value] = {"dossier": dossier, "file": file, "error": sentence}
    return tuple(values.get(name) for name in NAMES)
