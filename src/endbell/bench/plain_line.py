"""A reading that no subject asks for, held against the limits of its kind."""

from __future__ import annotations

from .limits import bounds_for
from .lines import Line
from .readings import Bench
from .telling import against, shown, tell


def plain_line(bench: Bench, line: str, at: str) -> Line:
    """What was read of ``line`` at ``at``, as it stands."""
    kind, value = bench.kinds[line], bench.value(line, at)
    bounds = bounds_for(line, bench.practice, bench.circuit.protection)
    says = ""
    if value is not None:
        says = f"{shown(value, kind.unit)}: {against(value, bounds, kind.unit)}."
    reading = bench.reading(line, at)
    return tell(bench, line, at=at, value=value, bounds=bounds, says=says, readings=(reading,))
