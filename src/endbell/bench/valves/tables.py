"""Reading the tables of ``bench/data/valves``: rows as they stand, figures where they are."""

from __future__ import annotations

from ..facts import Fact, facts

Row = Fact


def rows(name: str) -> tuple[Row, ...]:
    """The rows of ``bench/data/valves/<name>.csv``, in order."""
    return facts("valves", name)


def figure(row: Row, column: str) -> float | None:
    """The number in ``column``; None where the cell is empty or holds words."""
    try:
        return float(row[column])
    except ValueError:
        return None


def plain(name: str) -> str:
    """A designation as it is compared: '6L6-GC', '6l6 gc' and '6L6GC' are one."""
    return "".join(c for c in name.upper() if c.isalnum())
