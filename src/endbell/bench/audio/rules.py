"""The figures that recordings are taken and judged by, from ``data/audio``."""

from __future__ import annotations

from functools import cache

from ..facts import fact, facts


@cache
def rule(name: str) -> float:
    """The value of a row of ``data/audio/rules.csv``. Raises KeyError where there is none."""
    return float(fact("audio", "rules", name)["value"])


@cache
def sample_rates() -> tuple[int, ...]:
    """The sample rates that are known, Hz, rising."""
    return tuple(sorted(int(row["hertz"]) for row in facts("audio", "rates")))
