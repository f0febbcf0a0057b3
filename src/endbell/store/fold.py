"""From events to the present state: one small function a kind, nothing else changes a state."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from .bench_fold import BENCH_STEPS
from .events import Event
from .state import Acknowledged, Answer, DossierState, MarkRow, PhotoRow, RepairRow

T = TypeVar("T")


def fold(stream: str, events: Iterable[Event]) -> DossierState:
    """The state that ``events`` (all of one dossier, in order) have made.

    What is undone is left out as if it had not happened; what builds on something undone (a new
    wording of a mark whose first entry is taken back) stands on its own where it can and does
    nothing where it can't.
    """
    listed = tuple(events)
    undone = undone_of(listed)
    state = DossierState(id=stream)
    for event in listed:
        state = _step(state, event) if event.n not in undone else _seen(state, event)
    return replace(state, undone=tuple(sorted(undone)))


def advance(state: DossierState, events: Sequence[Event]) -> DossierState | None:
    """The state after ``events`` more; None where the whole stream has to be folded anew."""
    for event in events:
        if event.kind in ("undone", "redone"):
            return None
        state = _step(state, event)
    return state


def undone_of(events: Iterable[Event]) -> frozenset[int]:
    """The numbers of the events that are taken back: the last word on each counts.

    What has not happened yet can't be taken back.
    """
    undone: set[int] = set()
    for event in events:
        if event.kind == "undone" and event.data["n"] < event.n:
            undone.add(event.data["n"])
        elif event.kind == "redone":
            undone.discard(event.data["n"])
    return frozenset(undone)


def _step(state: DossierState, event: Event) -> DossierState:
    at_bench = BENCH_STEPS.get(event.kind)
    if at_bench is not None:
        return _seen(replace(state, bench=at_bench(state.bench, event)), event)
    return _seen(_APPLY[event.kind](state, event), event)


def _seen(state: DossierState, event: Event) -> DossierState:
    return replace(state, version=event.n, changed_at=event.at)


def _opened(state: DossierState, event: Event) -> DossierState:
    data = event.data
    head = {key: data[key] for key in ("purpose", "packs") if key in data}
    return replace(
        state,
        number=data["number"],
        head=head,
        claim=data.get("claim", {}),
        intake=data.get("intake", {}),
        opened_at=event.at,
    )


def _head_set(state: DossierState, event: Event) -> DossierState:
    keys = dict(event.data["keys"])
    number = keys.pop("number", state.number)
    head = {key: value for key, value in {**state.head, **keys}.items() if value is not None}
    return replace(state, number=number, head=head)


def _mark_set(state: DossierState, event: Event) -> DossierState:
    data = event.data
    mark = MarkRow(data["mark"], data["row"], event.n, event.who, event.at)
    return replace(state, marks=_put(state.marks, mark, mark.id, lambda m: m.id))


def _mark_withdrawn(state: DossierState, event: Event) -> DossierState:
    gone = event.data["mark"]
    marks = tuple(replace(m, withdrawn=True) if m.id == gone else m for m in state.marks)
    return replace(state, marks=marks)


def _part_set(state: DossierState, event: Event) -> DossierState:
    row: Mapping[str, Any] = event.data["row"]
    return replace(state, parts=_put(state.parts, row, row.get("id"), lambda r: r.get("id")))


def _repair_set(state: DossierState, event: Event) -> DossierState:
    repair = RepairRow(event.data["repair"], event.data["row"])
    return replace(state, repairs=_put(state.repairs, repair, repair.id, lambda r: r.id))


def _repair_withdrawn(state: DossierState, event: Event) -> DossierState:
    gone = event.data["repair"]
    rows = tuple(replace(r, withdrawn=True) if r.id == gone else r for r in state.repairs)
    return replace(state, repairs=rows)


def _photo_added(state: DossierState, event: Event) -> DossierState:
    data = dict(event.data)
    photo = PhotoRow(sha256=data.pop("photo"), **data)
    return replace(state, photos=_put(state.photos, photo, photo.sha256, lambda p: p.sha256))


def _photo_placed(state: DossierState, event: Event) -> DossierState:
    data = event.data
    photos = tuple(
        replace(p, mark=data.get("mark"), part=data.get("part")) if p.sha256 == data["photo"] else p
        for p in state.photos
    )
    return replace(state, photos=photos)


def _photo_withdrawn(state: DossierState, event: Event) -> DossierState:
    gone = event.data["photo"]
    photos = tuple(replace(p, withdrawn=True) if p.sha256 == gone else p for p in state.photos)
    return replace(state, photos=photos)


def _check_answered(state: DossierState, event: Event) -> DossierState:
    data = event.data
    answer = Answer(
        data["check"], data["part"], data["answer"], data.get("reason", ""), event.who, event.at
    )
    place = (answer.check, answer.part)
    return replace(state, answers=_put(state.answers, answer, place, lambda a: (a.check, a.part)))


def _acknowledged(state: DossierState, event: Event) -> DossierState:
    read = Acknowledged(event.data["level"], event.data["name"], event.who, event.at)
    return replace(state, acknowledged=(*state.acknowledged, read))


def _nothing(state: DossierState, event: Event) -> DossierState:
    return state


_APPLY: Mapping[str, Callable[[DossierState, Event], DossierState]] = {
    "opened": _opened,
    "head-set": _head_set,
    "claim-set": lambda s, e: replace(s, claim=e.data["claim"]),
    "known-set": lambda s, e: replace(s, known=e.data["known"]),
    "intake-set": lambda s, e: replace(s, intake=e.data["intake"]),
    "mark-set": _mark_set,
    "mark-withdrawn": _mark_withdrawn,
    "part-set": _part_set,
    "repair-set": _repair_set,
    "repair-withdrawn": _repair_withdrawn,
    "photo-added": _photo_added,
    "photo-placed": _photo_placed,
    "photo-withdrawn": _photo_withdrawn,
    "check-answered": _check_answered,
    "caution-acknowledged": _acknowledged,
    "tags-set": lambda s, e: replace(s, tags=tuple(e.data["tags"])),
    "note-set": lambda s, e: replace(s, note=e.data["note"]),
    "closed": lambda s, e: replace(s, closed=True),
    "reopened": lambda s, e: replace(s, closed=False),
    "undone": _nothing,
    "redone": _nothing,
}


def _put(rows: tuple[T, ...], row: T, key: object, key_of: Callable[[T], object]) -> tuple[T, ...]:
    """``row`` in the place of the one with its key, or at the end."""
    if any(key_of(old) == key for old in rows):
        return tuple(row if key_of(old) == key else old for old in rows)
    return (*rows, row)
