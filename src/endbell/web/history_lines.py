"""The history of a dossier in words: who changed what, when, on which device, from what to what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ..store.events import DOSSIER_KINDS, Event
from ..store.fold import undone_of
from . import history_bench

LASTING = ("opened", "undone", "redone", "caution-acknowledged")
"""Kinds that are not taken back: the beginning, what takes back, and that somebody has read."""

MARK_KINDS = ("mark-set", "mark-withdrawn")
KEYS_OF_CONTENT = ("text", "value", "feature", "quantity", "date", "result")


@dataclass(frozen=True, slots=True)
class Line:
    """One event.  ``what``: what it is about; ``changes``: key, before, after ('' : not there).

    ``new``: nothing stood there, and ``changes`` has only what ``what`` does not say.
    ``undone``: taken back now; ``can_undo``/``can_redo``: what can be done about it.
    """

    n: int
    at: str
    who: str
    device: str
    does: str
    what: str
    changes: tuple[tuple[str, str, str], ...]
    mark: str
    undone: bool
    can_undo: bool
    can_redo: bool
    typed: str | None = None
    new: bool = False


def history(
    events: Sequence[Event], names: Mapping[str, str], devices: Mapping[str, str]
) -> tuple[Line, ...]:
    """Every event of one dossier as a line, the newest first.

    ``names``: account -> name; ``devices``: device -> its name.  What stood before is what stood
    when it was changed, whatever was undone later.
    """
    now_undone = undone_of(events)
    before = _Before()
    lines: list[Line] = []
    by_n = {event.n: event for event in events}
    for event in events:
        undone = event.n in now_undone
        old, new = before.step(event)
        lasting = event.kind in LASTING
        lines.append(
            Line(
                n=event.n,
                at=event.at,
                who=names.get(event.who, event.who),
                device=devices.get(event.device, event.device),
                does=DOSSIER_KINDS[event.kind].words if event.kind in DOSSIER_KINDS else event.kind,
                what=_what(event, old, by_n),
                changes=_differences(old, new) if old else _besides(event, new),
                new=not old,
                mark=str(event.data.get("mark", "")) if event.kind in MARK_KINDS else "",
                undone=undone,
                can_undo=not undone and not lasting,
                can_redo=undone and not lasting,
                typed=event.typed,
            )
        )
    return tuple(reversed(lines))


def last_undoable(events: Sequence[Event], who: str) -> int | None:
    """The number of the last thing that ``who`` did and that can be taken back."""
    undone = undone_of(events)
    mine = [e.n for e in events if e.who == who and e.kind not in LASTING and e.n not in undone]
    return mine[-1] if mine else None


def last_redoable(events: Sequence[Event], who: str) -> int | None:
    """The number of what ``who`` took back last, if nothing else was recorded by them since."""
    undone = undone_of(events)
    for event in reversed(events):
        if event.who != who or event.kind == "redone":
            continue
        if event.kind != "undone":
            return None
        if event.data["n"] in undone:
            return int(event.data["n"])
    return None


class _Before:
    """What stood in each place before an event, leaving out what was undone by then."""

    def __init__(self) -> None:
        self._set: dict[tuple[str, str], list[tuple[int, Mapping[str, Any]]]] = {}
        self._undone: set[int] = set()

    def step(self, event: Event) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
        """Values before and after an event, as far as it changed any."""
        if event.kind == "undone":
            self._undone.add(event.data["n"])
            return {}, {}
        if event.kind == "redone":
            self._undone.discard(event.data["n"])
            return {}, {}
        if event.kind == "opened":
            for name in ("claim", "intake"):
                self._put((name, ""), event.n, event.data.get(name, {}))
            self._put(("head", ""), event.n, {"purpose": event.data.get("purpose", "")})
            return {}, {}
        place, value = _place_and_value(event)
        if place is None:
            return {}, {}
        old = self._get(place)
        if event.kind in ("head-set", "sheet-head-set"):
            new = {**old, **value}
            self._put(place, event.n, new)
            return {key: old.get(key) for key in value}, value
        self._put(place, event.n, value)
        return old, value

    def _get(self, place: tuple[str, str]) -> Mapping[str, Any]:
        for n, value in reversed(self._set.get(place, [])):
            if n not in self._undone:
                return value
        return {}

    def _put(self, place: tuple[str, str], n: int, value: Mapping[str, Any]) -> None:
        self._set.setdefault(place, []).append((n, value))


def _place_and_value(event: Event) -> tuple[tuple[str, str] | None, Mapping[str, Any]]:
    data = event.data
    match event.kind:
        case "mark-set":
            return ("mark", data["mark"]), data["row"]
        case "mark-withdrawn":
            return ("mark", data["mark"]), {}
        case "repair-set":
            return ("repair", data["repair"]), data["row"]
        case "repair-withdrawn":
            return ("repair", data["repair"]), {}
        case "part-set":
            return ("part", str(data["row"].get("id", ""))), data["row"]
        case "claim-set" | "known-set" | "intake-set":
            name = event.kind.removesuffix("-set")
            return (name, ""), data[name]
        case "head-set":
            return ("head", ""), data["keys"]
        case "tags-set":
            return ("tags", ""), {"tags": ", ".join(data["tags"])}
        case "note-set":
            return ("note", ""), {"note": data["note"]}
        case "photo-placed":
            return ("photo", data["photo"]), {k: data[k] for k in ("part", "mark") if k in data}
        case _:
            return history_bench.place_and_value(event)


def _differences(
    old: Mapping[str, Any], new: Mapping[str, Any]
) -> tuple[tuple[str, str, str], ...]:
    keys = dict.fromkeys((*old, *new))
    found = ((key, said(old.get(key)), said(new.get(key))) for key in keys)
    return tuple((key.replace("_", " "), a, b) for key, a, b in found if a != b)


def _besides(event: Event, new: Mapping[str, Any]) -> tuple[tuple[str, str, str], ...]:
    """What is new, without what the line says already."""
    if event.kind in history_bench.ROWS:
        return _differences({}, history_bench.besides(new))
    if event.kind not in ("mark-set", "repair-set", "part-set"):
        return _differences({}, new)
    told = ("part", "id", *KEYS_OF_CONTENT) if event.kind == "mark-set" else ("part", "id")
    return _differences({}, {key: value for key, value in new.items() if key not in told})


def said(value: object) -> str:
    """A value of a row as it was typed."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ", ".join(said(v) for v in value)  # pyright: ignore
    return str(value)


def _what(event: Event, old: Mapping[str, Any], by_n: Mapping[int, Event]) -> str:
    data = event.data
    match event.kind:
        case "mark-set":
            return _mark_words(data["row"])
        case "mark-withdrawn":
            return _mark_words(old) + (f": {data['reason']}" if data.get("reason") else "")
        case "undone" | "redone":
            other = by_n.get(data["n"])
            if other is None:
                return f"no. {data['n']}"
            about = _what(other, {}, by_n)
            words = DOSSIER_KINDS[other.kind].words
            return f"no. {other.n}, {words}{f' {about}' if about else ''}"
        case "repair-set":
            return said(data["row"].get("part"))
        case "repair-withdrawn":
            return said(old.get("part"))
        case "part-set":
            return said(data["row"].get("id"))
        case "opened":
            return data["number"]
        case "photo-added":
            where = data.get("part", "")
            return f"{data['name']}{f' ({where})' if where else ''}"
        case "check-answered":
            reason = f": {data['reason']}" if data.get("reason") else ""
            return f"{data['check']} ({data['part']}), {data['answer'].replace('-', ' ')}{reason}"
        case "caution-acknowledged":
            return f"{data['level'].replace('-', ' ')}, read by {data['name']}"
        case kind if kind in history_bench.ROWS:
            reason = f": {data['reason']}" if data.get("reason") else ""
            return history_bench.row_words(data.get("row", old)) + reason
        case _:
            return ""


def _mark_words(row: Mapping[str, Any]) -> str:
    """'ot: 993-3?8', 'covering: covering-colour grey-tweed'."""
    content = next((said(row[k]) for k in KEYS_OF_CONTENT[:2] if row.get(k) not in (None, "")), "")
    about = said(row.get("feature") or row.get("quantity"))
    result = said(row.get("result"))
    if result in ("", "seen"):
        result = ""
    tail = " ".join(filter(None, (about, content or said(row.get("date")), result)))
    return f"{said(row.get('part'))}: {tail}" if row else ""
