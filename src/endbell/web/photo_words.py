"""What photos show, in words: the part, and what was read there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ..store import DossierState, events_of
from ..store.accounts import names_of
from ..store.state import PhotoRow
from .desk import Desk


@dataclass(frozen=True, slots=True)
class Shown:
    """A photo as the pages show it: what it is of, in words."""

    row: PhotoRow
    of: str
    mark: str

    @property
    def sha256(self) -> str:
        return self.row.sha256


def shown_photos(state: DossierState) -> list[Shown]:
    """The photos that stand, in the order of the marks they show, those of the whole amp first."""
    order = {mark.id: n for n, mark in enumerate(state.standing, start=1)}
    rows = [p for p in state.photos if not p.withdrawn]
    rows.sort(key=lambda p: (order.get(p.mark or "", 0), p.part or ""))
    return [Shown(row, *of_what(state, row)) for row in rows]


def marks_of(state: DossierState) -> dict[str, str]:
    """Mark id -> 'pot-1: 992-341', for choosing one."""
    return {m.id: f"{m.row.get('part') or '?'}: {_typed(m.row)}" for m in state.standing}


def parts_of(state: DossierState) -> list[str]:
    """Parts that marks or photos of the dossier name."""
    named = [str(m.row.get("part") or "") for m in state.standing]
    named += [p.part or "" for p in state.photos]
    return sorted({part for part in named if part})


def _typed(row: Mapping[str, Any]) -> str:
    keys = ("text", "value", "date", "result")
    return next((str(row[key]) for key in keys if row.get(key)), "")


def of_what(state: DossierState, row: PhotoRow) -> tuple[str, str]:
    """What a photo shows: the part, and what was read there."""
    mark = state.mark(row.mark) if row.mark else None
    if mark is None:
        return row.part or "the amp", ""
    return str(mark.row.get("part") or row.part or "the amp"), _typed(mark.row)


def added_by(desk: Desk, state: DossierState, sha256: str) -> tuple[str, str]:
    """Who added it, when."""
    for event in events_of(desk.db, state.id):
        if event.kind == "photo-added" and event.data.get("photo") == sha256:
            return names_of(desk.db).get(event.who, event.who), event.at
    return "", ""
