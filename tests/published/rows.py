"""Rows of the published tables in ``data/``, each with its own source, how and confidence.

``how`` says where a row is from: 'seen' at the address given, 'computed' by a stated rule, or
'memory': general knowledge that was not checked against a page.  Tests keep the three apart.
"""

from __future__ import annotations

import csv
from pathlib import Path

Row = dict[str, str]


def rows(name: str) -> list[Row]:
    """Return the rows of ``data/<name>.csv`` in order."""
    with (Path(__file__).parent / "data" / f"{name}.csv").open(encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f))


def from_memory(how: str) -> bool:
    """Whether a row (or a part of it) rests on memory alone."""
    return "memory" in how and "seen" not in how
