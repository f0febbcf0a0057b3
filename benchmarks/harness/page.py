"""Pieces of the result page: tables, bars, figures as they are said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Bar:
    """Something asked for beforehand, and what was measured, in the words of the page.

    ``met`` goes by the clock on the wall; ``processor`` is the same by the processor's time.
    """

    what: str
    limit: str
    measured: str
    processor: str
    met: bool


def at_most(what: str, value: float, processor: float, limit: float, unit: str) -> Bar:
    """A bar that a figure must not pass."""
    said = (f"{figure(value)} {unit}", figure(processor))
    return Bar(what, f"at most {limit:g} {unit}", *said, value <= limit)


def at_least(what: str, value: float, processor: float, limit: float, unit: str) -> Bar:
    """A bar that a figure must reach."""
    said = (f"{figure(value)} {unit}", figure(processor))
    return Bar(what, f"at least {limit:g} {unit}", *said, value >= limit)


def figure(x: float) -> str:
    """Three figures are as many as a clock deserves.

    >>> figure(1234.5), figure(0.01234), figure(20.04)
    ('1,234', '0.0123', '20.0')
    """
    if x == 0:
        return "0"
    digits = max(2 - _order(x), 0)
    return f"{x:,.{digits}f}"


def _order(x: float) -> int:
    return int(f"{abs(x):e}".partition("e")[2])


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """A table, its lines."""
    return [_line(head), _line(["---"] * len(head)), *map(_line, rows), ""]


def bars(found: Sequence[Bar]) -> list[str]:
    rows = [[b.what, b.limit, b.measured, "yes" if b.met else "**no**", b.processor] for b in found]
    return table(("bar", "limit", "measured", "met", "by the processor's time"), rows)


def _line(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"
