"""Which changes a program may send, beyond what the record itself asks of any change."""

from __future__ import annotations

from collections.abc import Sequence

from ..store import Appended, Change, NoDossier, NumberTaken, append, state_of
from .desk import Desk
from .live import changed_soon
from .plain_values import check_plain
from .refusal import Refusal
from .sessions import Person

NOT_BY_API = {
    "photo-added": "photos are sent as files, to /dossiers/{id}/photos",
    "opened": "a dossier is opened by POST /api/v1/dossiers",
    "caution-acknowledged": "a caution is read and acknowledged on its page, by a person",
}
LIMITS = {"mark": 64, "repair": 64, "number": 80, "check": 100, "part": 80, "level": 40}
TAGS = 40


def record(desk: Desk, person: Person, dossier: str, changes: list[Change], key: str) -> Appended:
    """Append, have every open page told, give what was recorded."""
    try:
        done = append(desk.db, dossier, changes, by=person.by, key=key)
    except NumberTaken:
        raise Refusal(
            409,
            "a number, a mark's id or a key that is in use already",
            "one that nothing else has",
        ) from None
    if done.repeated and (done.state is None or done.state.id != dossier):
        raise Refusal(409, "this key was used for another dossier", "a key of its own", place="key")
    if not done.repeated:
        changed_soon(desk, dossier)
    return done


def check_changes(desk: Desk, dossier: str, changes: Sequence[Change]) -> None:
    """Raise :class:`Refusal` for what a program may not record."""
    version = state_of(desk.db, dossier).version
    for n, change in enumerate(changes):
        place = f"changes.{n}"
        if change.kind in NOT_BY_API:
            raise Refusal(422, f"{place}: {change.kind}", NOT_BY_API[change.kind], place=place)
        check_plain(change.data, f"{place}.data")
        check_lengths(change, place)
        if change.kind in ("undone", "redone") and not 1 < _whole(change) <= version:
            raise Refusal(
                422, f"{place}: event {_whole(change)}", f"one from 2 to {version}", place=place
            )


def check_lengths(change: Change, place: str) -> None:
    """Raise :class:`Refusal` for names that are too long to be kept."""
    tables = [change.data, change.data.get("keys"), change.data.get("row")]
    for table in tables:
        if not isinstance(table, dict):
            continue
        for name, most in LIMITS.items():
            value = table.get(name)
            if isinstance(value, str) and not 0 < len(value) <= most:
                raise Refusal(
                    422,
                    f"{place}: {name} of {len(value)} characters",
                    f"1 to {most}",
                    place=f"{place}.{name}",
                )
    keys = change.data.get("keys")
    if isinstance(keys, dict) and not isinstance(keys.get("number", "-"), str):
        raise Refusal(422, f"{place}: the number is no text", "a text", place=place)
    tags = change.data.get("tags")
    if isinstance(tags, list) and any(not 0 < len(str(tag)) <= TAGS * 2 for tag in tags):
        raise Refusal(422, f"{place}: a tag", f"1 to {TAGS * 2} characters", place=place)


def check_there(desk: Desk, dossier: str) -> None:
    """Raise ``NoDossier`` for an id that no dossier has."""
    if len(dossier) > 32 or not dossier.isalnum() or not dossier.isascii():
        raise NoDossier(f"there is no dossier {dossier[:40]!r}")


def _whole(change: Change) -> int:
    n = change.data.get("n", 0)
    return n if isinstance(n, int) else 0
