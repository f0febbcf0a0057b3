"""A row that could not be used, as JSON: one form for verdicts, sheets and commands."""

from __future__ import annotations

from typing import Any

from .types import Problem


def problem_json(problem: Problem) -> dict[str, Any]:
    """Its place, what was found, what would be accepted, and what is nearest."""
    return {
        "file": problem.file,
        "header": problem.header,
        "table": problem.table,
        "line": problem.line,
        "found": problem.found,
        "accepted": problem.accepted,
        "nearest": list(problem.nearest),
    }
