"""What can happen to a record: every kind of event, what it carries, and how history says it.

An event is appended and never changed.  Texts in ``data`` are kept as typed: what they mean is
worked out anew whenever somebody asks.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Data = Mapping[str, Any]

SHOP = "shop"
"""The stream of what belongs to no single dossier: saved views, the shop's own packs."""


@dataclass(frozen=True, slots=True)
class Change:
    """Something to be recorded: a kind of :data:`KINDS` and its data.

    ``typed``: when it was typed by the clock of the device, where that was earlier (offline).
    """

    kind: str
    data: Data = field(default_factory=dict[str, Any])
    typed: str | None = None


@dataclass(frozen=True, slots=True)
class By:
    """Who recorded something, on which device: an account's id and a device's id or name."""

    who: str
    device: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """A change as recorded.

    ``seq``: its place among all events of the database; ``n``: its place in its stream, from 1;
    ``at``: UTC, ISO 8601 with microseconds; ``key``: unique, made by whoever sent it, so that
    sending twice records once; ``digest``: SHA-256 over the event and the digest of the one
    before it in its stream.
    """

    seq: int
    stream: str
    n: int
    at: str
    who: str
    device: str
    kind: str
    data: Data
    key: str
    typed: str | None = None
    digest: str = ""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of event: how history says it, which keys it must and may carry (with their type)."""

    name: str
    words: str
    must: Mapping[str, str] = field(default_factory=dict[str, str])
    may: Mapping[str, str] = field(default_factory=dict[str, str])


# Types of values: 'text', 'number', 'whole' (a whole number), 'yes-no', 'texts', 'table'.
_DOSSIER = (
    Kind(
        "opened",
        "booked in",
        {"number": "text"},
        {"purpose": "text", "packs": "texts", "claim": "table", "intake": "table"},
    ),
    # number, purpose, packs, as_of, and any key that a dossier file brought and nobody knows
    Kind("head-set", "changed", {"keys": "table"}),
    Kind("claim-set", "claim changed", {"claim": "table"}),
    Kind("known-set", "years of making changed", {"known": "table"}),
    # whose, contact, why, note
    Kind("intake-set", "intake changed", {"intake": "table"}),
    # a new mark or a new wording of one: 'row' is the [[mark]] table of a dossier file
    Kind("mark-set", "entered", {"mark": "text", "row": "table"}),
    Kind("mark-withdrawn", "withdrawn", {"mark": "text"}, {"reason": "text"}),
    Kind("part-set", "part described", {"row": "table"}),
    Kind("repair-set", "repair recorded", {"repair": "text", "row": "table"}),
    Kind("repair-withdrawn", "repair withdrawn", {"repair": "text"}, {"reason": "text"}),
    # 'photo' is the SHA-256 of the original; 'taken' the time the camera gave, if any
    Kind(
        "photo-added",
        "photo added",
        {"photo": "text", "name": "text", "type": "text", "bytes": "whole"},
        {"mark": "text", "part": "text", "taken": "text", "width": "whole", "height": "whole"},
    ),
    Kind("photo-placed", "photo moved", {"photo": "text"}, {"mark": "text", "part": "text"}),
    Kind("photo-withdrawn", "photo withdrawn", {"photo": "text"}, {"reason": "text"}),
    # a check that can't be made or isn't worth making here: 'answer' is one of ANSWERS
    Kind(
        "check-answered",
        "check answered",
        {"check": "text", "part": "text", "answer": "text"},
        {"reason": "text"},
    ),
    Kind("caution-acknowledged", "caution acknowledged", {"level": "text", "name": "text"}),
    Kind("tags-set", "tags changed", {"tags": "texts"}),
    Kind("note-set", "note changed", {"note": "text"}),
    Kind("closed", "closed"),
    Kind("reopened", "opened again"),
    # the bench: 'row' is the table of that name of a sheet file; a key of None is taken away
    Kind("sheet-head-set", "bench sheet changed", {"keys": "table"}),
    Kind("reading-set", "measured", {"reading": "text", "row": "table"}),
    Kind("reading-withdrawn", "measurement withdrawn", {"reading": "text"}, {"reason": "text"}),
    Kind("override-given", "let pass", {"override": "text", "row": "table"}),
    Kind("override-withdrawn", "not let pass any more", {"override": "text"}, {"reason": "text"}),
    # the removed part lives on under a name of its own (a [[part]] row), with the marks seen on it
    Kind(
        "replaced-set",
        "part replaced",
        {"replaced": "text", "row": "table"},
        {"removed": "table", "marks": "texts"},
    ),
    Kind("replaced-withdrawn", "replacement withdrawn", {"replaced": "text"}, {"reason": "text"}),
    Kind("fault-set", "fault found", {"fault": "text", "row": "table"}),
    Kind("fault-withdrawn", "fault withdrawn", {"fault": "text"}, {"reason": "text"}),
    # removed parts given back: 'row' holds bags, to, by, on, note
    Kind("bags-handed-over", "removed parts handed over", {"handover": "text", "row": "table"}),
    Kind("handover-withdrawn", "handing over withdrawn", {"handover": "text"}, {"reason": "text"}),
    Kind("undone", "undone", {"n": "whole"}),
    Kind("redone", "redone", {"n": "whole"}),
)

_SHOP = (
    Kind("view-saved", "view saved", {"view": "text", "name": "text", "query": "table"}),
    Kind("view-removed", "view removed", {"view": "text"}),
    # a whole file of one of the shop's own packs, as it is from now on
    Kind("pack-file-set", "pack changed", {"pack": "text", "file": "text", "content": "text"}),
    Kind("pack-file-removed", "pack file removed", {"pack": "text", "file": "text"}),
    Kind("setting-set", "setting changed", {"name": "text", "value": "text"}),
    Kind("undone", "undone", {"n": "whole"}),
    Kind("redone", "redone", {"n": "whole"}),
)

DOSSIER_KINDS: Mapping[str, Kind] = {kind.name: kind for kind in _DOSSIER}
SHOP_KINDS: Mapping[str, Kind] = {kind.name: kind for kind in _SHOP}

ANSWERS = ("not-possible", "not-now", "nothing-there")
"""What can be said of a check that was not made."""


class ChangeRefused(ValueError):
    """A change that can't be recorded; the sentence says what was found and what would do."""


def check_change(stream: str, change: Change) -> None:
    """Raise :class:`ChangeRefused` where kind or data are not what the stream takes."""
    kinds = SHOP_KINDS if stream == SHOP else DOSSIER_KINDS
    kind = kinds.get(change.kind)
    if kind is None:
        raise ChangeRefused(f"no change is called {change.kind!r}; one of {', '.join(kinds)}")
    for name, form in kind.must.items():
        if name not in change.data:
            raise ChangeRefused(f"{kind.name} without {name!r}")
        _check_value(kind.name, name, form, change.data[name])
    for name, value in change.data.items():
        if name in kind.must:
            continue
        if name not in kind.may:
            accepted = ", ".join((*kind.must, *kind.may)) or "nothing"
            raise ChangeRefused(f"{kind.name} carries {accepted}; found {name!r}")
        _check_value(kind.name, name, kind.may[name], value)
    try:
        canonical(change.data).encode()
    except (ValueError, TypeError) as error:  # half a character, NaN, what is no JSON
        raise ChangeRefused(f"{kind.name}: its data can't be written down: {error}") from None


def _check_value(kind: str, name: str, form: str, value: object) -> None:
    good = {
        "text": isinstance(value, str),
        "number": isinstance(value, int | float) and not isinstance(value, bool),
        "whole": isinstance(value, int) and not isinstance(value, bool),
        "yes-no": isinstance(value, bool),
        "texts": isinstance(value, list | tuple) and all(isinstance(v, str) for v in value),
        "table": isinstance(value, Mapping) and all(isinstance(k, str) for k in value),
    }[form]
    if not good:
        raise ChangeRefused(f"{kind}: {name} should be a {form}; found {value!r:.80}")


def canonical(value: object) -> str:
    """JSON with one spelling for one value: keys in order, no spaces, no NaN."""
    return json.dumps(
        value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
    )


def digest_of(before: str, event: Event) -> str:
    """SHA-256 of the digest before it in its stream and all that the event says (hex)."""
    said = [
        before,
        event.stream,
        event.n,
        event.at,
        event.who,
        event.device,
        event.kind,
        event.data,
        event.key,
        event.typed,
    ]
    return hashlib.sha256(canonical(said).encode()).hexdigest()
