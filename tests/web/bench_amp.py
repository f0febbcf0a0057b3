"""An amp on the bench for the tests of its screens: readings that pass, and how they are put in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from endbell.store import By, Change, Database, append, new_id

BY = By("tests", "test")
CLAIM = {"maker": "brackwater", "model": "lantern-20", "built": "1964"}
CAPACITORS = ("C1", "C2", "C3")


def row(line: str, value: str, at: str = "", **more: Any) -> dict[str, Any]:
    return {"line": line, "value": value} | ({"at": at} if at else {}) | more


SAFE: Mapping[str, tuple[dict[str, Any], ...]] = {
    "cord-kind": (row("cord-kind", "3"),),
    "line-capacitor": (row("line-capacitor", "0"),),
    "filter-volts-left": tuple(row("filter-volts-left", "0.3", at) for at in CAPACITORS),
    "earth-bond": (row("earth-bond", "0.06"),),
    "insulation": (row("insulation", ">200M"),),
    "fuse-fitted": (row("fuse-fitted", "1 A", note="F"),),
}
"""What has to pass before power is put on for the first time, under the limits of 'iet'."""

BAD: Mapping[str, dict[str, Any]] = {
    "cord-kind": row("cord-kind", "2"),
    "line-capacitor": row("line-capacitor", "1"),
    "filter-volts-left": row("filter-volts-left", "230", "C2"),
    "earth-bond": row("earth-bond", "2.5"),
    "insulation": row("insulation", "0.01 Mohm"),
    "fuse-fitted": row("fuse-fitted", "10 A", note="F"),
}

LEAKAGE = (row("leakage-normal", "0.2 mA"), row("leakage-reversed", "0.25 mA"))
LIMITED = (
    row("limited-mains-volts", "60"),
    row("limited-current", "0.2"),
    *(row("limited-rail", volts, at) for at, volts in (("A", "85"), ("B", "84"), ("C", "60"))),
)


def readings(rows: Iterable[Mapping[str, Any]]) -> list[Change]:
    return [Change("reading-set", {"reading": new_id(), "row": dict(r)}) for r in rows]


def safe(less: str = "") -> list[Change]:
    """Every safety line passed, but for ``less``."""
    return readings(r for name, rows in SAFE.items() if name != less for r in rows)


def read_caution() -> Change:
    return Change("caution-acknowledged", {"level": "limited-mains", "name": "Tomas Bench"})


def let_pass(line: str, at: str = "") -> Change:
    named = {"line": line} | ({"at": at} if at else {})
    said = {**named, "by": "Olive Owner", "reason": "seen to by hand"}
    return Change("override-given", {"override": new_id(), "row": said})


def replaced(part: str = "ot") -> Change:
    said = {"part": part, "by_what": "a new one", "why": "open primary", "done": "2026-03"}
    return Change("replaced-set", {"replaced": new_id(), "row": {**said, "kept": True, "bag": "1"}})


def on_bench(db: Database, *changes: Change) -> str:
    """The id of a dossier with ``changes``: a lantern-20, held against the limits of 'iet'."""
    made = new_id()
    opened = {
        "number": f"TRV-{made[-8:]}",
        "packs": ["brackwater"],
        "claim": CLAIM,
        "intake": {"whose": "A. Customer"},
    }
    head = Change("sheet-head-set", {"keys": {"practice": "iet"}})
    append(db, made, [Change("opened", opened), head, *changes], by=BY)
    return made
