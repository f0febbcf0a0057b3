"""Edges of windows that can be learned: where a supplier or a feature's value gives way to another.

Ends of rows that lie within a week of each other are one change and move together, in weeks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from ...chronology.time import Grid
from ...chronology.weeks import week_of
from ...reference.types import Supply, Window

Array = NDArray[np.float64]
TOGETHER = 1  # weeks by which ends of one change may differ


@dataclass(frozen=True, slots=True)
class End:
    """One end of one row: its place in its table, and which end."""

    row: int
    last: bool


@dataclass(frozen=True, slots=True)
class Edge:
    """A change: the ends of rows that move together, and the day it is known by."""

    name: str
    ends: tuple[End, ...]
    day: date

    @property
    def week(self) -> int:
        return week_of(self.day)


def edges_of(stem: str, windows: Sequence[Window]) -> list[Edge]:
    """The changes among some rows' windows; ``stem`` begins their names."""
    ends: list[tuple[int, date, End]] = []
    for i, w in enumerate(windows):
        if w.first is not None:
            ends.append((week_of(w.first), w.first, End(i, False)))
        if w.last is not None:
            after = w.last + timedelta(days=1)
            ends.append((week_of(after), after, End(i, True)))
    out: list[Edge] = []
    group: list[tuple[int, date, End]] = []
    for found in [*sorted(ends, key=lambda e: (e[0], e[1], e[2].row)), None]:
        if group and (found is None or found[0] > group[-1][0] + TOGETHER):
            day = min((e[1] for e in group if not e[2].last), default=group[0][1])
            out.append(Edge(f"{stem}.{day.isoformat()}", tuple(e[2] for e in group), day))
            group = []
        if found is not None:
            group.append(found)
    return out


def shifted(window: Window, row: int, moves: Sequence[tuple[Edge, int]]) -> Window:
    """A row's window with its ends moved by whole days; one that would end before it begins is left
    a single day.
    """
    first, last = window.first, window.last
    for edge, days in moves:
        for end in edge.ends:
            if end.row == row and days:
                if end.last and last is not None:
                    last = last + timedelta(days=days)
                elif not end.last and first is not None:
                    first = first + timedelta(days=days)
    if first is not None and last is not None and last < first:
        last = first
    return Window(first, last, window.weight)


def slope(window: Window, softness: float, grid: Grid, *, last: bool) -> Array:
    """The derivative of a soft window by a shift of one of its ends, a week; (size,)."""
    if softness <= 0:
        return np.zeros(grid.size)
    whole = grid.soft_window(window, softness)
    t = np.arange(grid.size, dtype=np.float64)
    end = window.last if last else window.first
    assert end is not None
    x = (week_of(end) - t + 0.5) if last else (t - week_of(end) + 0.5)
    outside = 1.0 / (1.0 + np.exp(np.clip(x / softness, -700.0, 700.0)))  # 1 - the edge
    return (whole if last else -whole) * outside / softness


@dataclass(frozen=True, slots=True)
class Slots:
    """Suppliers that share a class's supply at the same time: one simplex.

    ``rows``: for each member the rows that are its turns, one after the other.
    """

    rows: tuple[tuple[int, ...], ...]
    shares: tuple[float, ...]


def slots_of(rows: Sequence[Supply]) -> list[Slots]:
    """Sets of rows whose shares can be learned.

    Rows that overlap hang together; one that begins where another with the same share ends takes
    its turn.  All turns of a set must reach over the same time, and their shares sum to one.
    """
    out: list[Slots] = []
    for models in dict.fromkeys(r.models for r in rows):
        mine = [i for i, r in enumerate(rows) if r.models == models]
        for together in _overlapping(rows, mine):
            turns = _turns(rows, together)
            spans = {_span(rows, turn) for turn in turns}
            shares = [rows[turn[0]].window.weight for turn in turns]
            near = max(s[0] for s in spans) - min(s[0] for s in spans) <= TOGETHER
            near = near and max(s[1] for s in spans) - min(s[1] for s in spans) <= TOGETHER
            if len(turns) > 1 and near and abs(sum(shares) - 1.0) < 1e-6:
                out.append(Slots(tuple(turns), tuple(shares)))
    return out


def _weeks(row: Supply) -> tuple[int, int]:
    first = -(10**6) if row.window.first is None else week_of(row.window.first)
    last = 10**6 if row.window.last is None else week_of(row.window.last)
    return first, last


def _overlapping(rows: Sequence[Supply], mine: Sequence[int]) -> list[list[int]]:
    out: list[list[int]] = []
    for i in sorted(mine, key=lambda i: _weeks(rows[i])):
        first = _weeks(rows[i])[0]
        if out and any(_weeks(rows[j])[1] > first + TOGETHER for j in out[-1]):
            out[-1].append(i)
        else:
            out.append([i])
    return out


def _turns(rows: Sequence[Supply], together: Sequence[int]) -> list[tuple[int, ...]]:
    turns: list[list[int]] = []
    for i in together:
        for turn in turns:
            gap = _weeks(rows[i])[0] - _weeks(rows[turn[-1]])[1]
            same = rows[i].window.weight == rows[turn[-1]].window.weight
            if same and -TOGETHER <= gap <= TOGETHER + 1:
                turn.append(i)
                break
        else:
            turns.append([i])
    return [tuple(t) for t in turns]


def _span(rows: Sequence[Supply], turn: Sequence[int]) -> tuple[int, int]:
    return _weeks(rows[turn[0]])[0], _weeks(rows[turn[-1]])[1]
