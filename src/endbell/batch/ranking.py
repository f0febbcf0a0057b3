"""Changes put in order, most changed first, whatever their number: sorted on disk."""

from __future__ import annotations

import csv
import json
import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from .changes import Change

CHANGES_CSV = "changes.csv"

COLUMNS = (
    "dossier", "file", "shift", "mode_before", "mode_after", "mode_weeks",
    "mode_year_before", "mode_year_after", "p_mode_year_before", "p_mode_year_after",
    "p_mode_year_change", "claim_p_before", "claim_p_after", "claim_p_change",
    "edtf_before", "edtf_after", "years_in", "years_out", "words", "log_evidence_change",
    "error_before", "error_after",
)  # fmt: skip


def record(change: Change) -> dict[str, Any]:
    """A change as plain values, by the names of ``COLUMNS``; nine significant digits."""
    b, a = change.before, change.after
    return {
        "dossier": change.dossier,
        "file": change.file,
        "shift": change.shift,
        "mode_before": b["mode"],
        "mode_after": a["mode"],
        "mode_weeks": change.mode_weeks,
        "mode_year_before": b["mode_year"],
        "mode_year_after": a["mode_year"],
        "p_mode_year_before": b["p_mode_year"],
        "p_mode_year_after": a["p_mode_year"],
        "p_mode_year_change": _nine(change.moved("p_mode_year")),
        "claim_p_before": b["claim_p"],
        "claim_p_after": a["claim_p"],
        "claim_p_change": _nine(change.moved("claim_p")),
        "edtf_before": b["edtf"],
        "edtf_after": a["edtf"],
        "years_in": list(change.years_in),
        "years_out": list(change.years_out),
        "words": {part: list(pair) for part, pair in change.words.items()},
        "log_evidence_change": _nine(change.moved("log_evidence")),
        "error_before": b["error"],
        "error_after": a["error"],
    }


def rank(found: Iterable[Change], folder: Path, most: int) -> list[dict[str, Any]]:
    """Write all changes into ``changes.csv``, most changed first; the first ``most`` of them.

    By the shift over years; then by the change of the claim's probability, of the number of words,
    of the likeliest week; then in the order of the input.
    """
    scratch = folder / "ranking.sqlite"
    scratch.unlink(missing_ok=True)
    first: list[dict[str, Any]] = []
    part = folder / (CHANGES_CSV + ".part")
    try:
        with (
            closing(sqlite3.connect(scratch, isolation_level=None)) as base,
            open(part, "w", encoding="utf-8", newline="", errors="replace") as stream,
        ):
            writer = csv.writer(stream, lineterminator="\n")
            writer.writerow(COLUMNS)
            for one in _in_order(base, found):
                if len(first) < most:
                    first.append(one)
                writer.writerow([_cell(one[name]) for name in COLUMNS])
    finally:
        scratch.unlink(missing_ok=True)
    os.replace(part, folder / CHANGES_CSV)
    return first


def _in_order(base: sqlite3.Connection, found: Iterable[Change]) -> Iterator[dict[str, Any]]:
    for pragma in ("journal_mode=OFF", "synchronous=OFF"):
        base.execute(f"PRAGMA {pragma}")
    base.execute(
        "CREATE TABLE changes (n INTEGER PRIMARY KEY, shift REAL, claim REAL, words INTEGER,"
        " weeks INTEGER, record TEXT)"
    )
    base.execute("BEGIN")
    base.executemany("INSERT INTO changes VALUES (NULL, ?, ?, ?, ?, ?)", map(_ranked, found))
    base.execute("COMMIT")
    for (text,) in base.execute(
        "SELECT record FROM changes ORDER BY shift DESC, claim DESC, words DESC, weeks DESC, n"
    ):
        yield json.loads(text)


def _ranked(change: Change) -> tuple[float, float, int, int, str]:
    return (
        change.shift,
        abs(change.moved("claim_p") or 0.0),
        len(change.words),
        abs(change.mode_weeks or 0),
        json.dumps(record(change)),
    )


def _nine(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.9g}")


def _cell(value: Any) -> Any:
    if isinstance(value, list):
        return ";".join(str(v) for v in value)
    if isinstance(value, dict):
        return json.dumps(value, ensure_ascii=False) if value else ""
    return value
