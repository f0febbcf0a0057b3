"""From the events of the bench to its present state: one list a kind of row."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, cast

from .bench import BenchRow, BenchState
from .events import Event

Step = Callable[[BenchState, Event], BenchState]


def _head_set(bench: BenchState, event: Event) -> BenchState:
    keys = {**bench.head, **event.data["keys"]}
    return replace(bench, head={key: value for key, value in keys.items() if value is not None})


def _set(name: str, key: str) -> Step:
    """A row set: in the place of the one with its id, or at the end."""

    def step(bench: BenchState, event: Event) -> BenchState:
        data = event.data
        row = BenchRow(data[key], data["row"], event.n, event.who, event.at)
        rows = _rows(bench, name)
        if any(old.id == row.id for old in rows):
            return _with(bench, name, tuple(row if old.id == row.id else old for old in rows))
        return _with(bench, name, (*rows, row))

    return step


def _replaced_set(bench: BenchState, event: Event) -> BenchState:
    """A part replaced; what was seen on the old one goes with it."""
    data = event.data
    row = BenchRow(
        data["replaced"],
        data["row"],
        event.n,
        event.who,
        event.at,
        removed=data.get("removed", {}),
        marks=tuple(data.get("marks", ())),
    )
    others = tuple(old for old in bench.replaced if old.id != row.id)
    return replace(bench, replaced=(*others, row))


def _withdrawn(name: str, key: str) -> Step:
    """A row that does not count any more."""

    def step(bench: BenchState, event: Event) -> BenchState:
        gone = event.data[key]
        rows = _rows(bench, name)
        return _with(
            bench, name, tuple(replace(r, withdrawn=True) if r.id == gone else r for r in rows)
        )

    return step


def _rows(bench: BenchState, name: str) -> tuple[BenchRow, ...]:
    return cast("tuple[BenchRow, ...]", getattr(bench, name))


def _with(bench: BenchState, name: str, rows: tuple[BenchRow, ...]) -> BenchState:
    changed: dict[str, Any] = {name: rows}
    return replace(bench, **changed)


BENCH_STEPS: Mapping[str, Step] = {
    "sheet-head-set": _head_set,
    "reading-set": _set("readings", "reading"),
    "reading-withdrawn": _withdrawn("readings", "reading"),
    "override-given": _set("overrides", "override"),
    "override-withdrawn": _withdrawn("overrides", "override"),
    "replaced-set": _replaced_set,
    "replaced-withdrawn": _withdrawn("replaced", "replaced"),
    "fault-set": _set("faults", "fault"),
    "fault-withdrawn": _withdrawn("faults", "fault"),
    "bags-handed-over": _set("handovers", "handover"),
    "handover-withdrawn": _withdrawn("handovers", "handover"),
}
"""What each kind of event does to the bench."""
