"""Photos that come in: each kept by itself, so that a bad one takes no good one with it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from anyio import CapacityLimiter, to_thread
from starlette.datastructures import FormData, UploadFile

from ..store import By, Change, Database, DossierState, append, new_id, state_of
from ..store.photos import Kept, NoRoom, PhotoRefused, clear_incoming, keep
from ..store.state import PhotoRow
from .refusal import Refusal

MOST = 40
"""Photos in one request."""

_BLOCK = 2**20
_ID = re.compile(r"[0-9A-Za-z_-]{1,64}")
_TYPED = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?(Z|[+-]\d\d:\d\d)?")

_unpacking: list[CapacityLimiter] = []
_cleared: set[Path] = set()  # folders rid of what a server that was stopped had left


@dataclass(frozen=True, slots=True)
class Sent:
    """What came of an upload.  ``here``: photos that were there already, and where they are.

    ``recorded``: whether the dossier has changed.
    """

    kept: tuple[Kept, ...]
    here: Mapping[str, str]
    refused: tuple[str, ...]
    recorded: bool
    state: DossierState


def unpacking() -> CapacityLimiter:
    """Two photos are unpacked at a time, however many come: each may take some 200 MB."""
    if not _unpacking:
        _unpacking.append(CapacityLimiter(2))
    return _unpacking[0]


async def take(db: Database, dossier: str, form: FormData, by: By) -> Sent:
    """Keep every photo of a form and record those that are good.

    Fields: files under any name, ``mark`` or ``part`` (what they show), ``key``, ``typed``.  Raises
    :class:`Refusal` where no file is there, or none that is kept.
    """
    await to_thread.run_sync(state_of, db, dossier)  # a dossier that is not there is said first
    if db.folder not in _cleared:
        _cleared.add(db.folder)
        await to_thread.run_sync(clear_incoming, db)
    files = [
        value
        for _, value in form.multi_items()
        if isinstance(value, UploadFile) and (value.filename or value.size)
    ]
    if not files:
        raise Refusal(422, "no photo was sent", "a photo as JPEG, PNG, WebP or HEIC")
    if len(files) > MOST:
        raise Refusal(422, f"{len(files)} photos at once", f"up to {MOST}; the others after them")
    place = place_of(form)
    kept: list[Kept] = []
    refused: list[str] = []
    for file in files:
        try:
            kept.append(await to_thread.run_sync(_keep, db, file, limiter=unpacking()))
        except PhotoRefused as error:
            refused.append(str(error))
        except NoRoom as error:
            if not kept:
                raise Refusal(507, str(error), "the same again when there is room") from None
            refused.append(str(error))
    if not kept:
        found, _, accepted = refused[0].partition("; accepted: ")
        raise Refusal(422, found, accepted)
    key, typed = _text(form, "key"), _text(form, "typed")
    return await to_thread.run_sync(
        _record,
        db,
        dossier,
        kept,
        refused,
        place,
        by,
        key,
        typed if _TYPED.fullmatch(typed) else None,
    )


def place_of(form: Mapping[str, object]) -> dict[str, str]:
    """What the photos show: ``mark`` and ``part`` as an event carries them."""
    mark, part = _text(form, "mark"), _text(form, "part")
    if mark and not _ID.fullmatch(mark):
        raise Refusal(422, f"the mark is {mark!r:.80}", "the id of a mark of this dossier")
    if len(part) > 80 or not part.isprintable():
        raise Refusal(422, f"the part is {part!r:.90}", "the id of a part, such as ot or pot-1")
    return {name: value for name, value in (("mark", mark), ("part", part)) if value}


def _keep(db: Database, file: UploadFile) -> Kept:
    return keep(db, _blocks(file.file), file.filename or "photo")


def _blocks(stream: BinaryIO) -> Iterator[bytes]:
    stream.seek(0)
    while block := stream.read(_BLOCK):
        yield block


def _record(
    db: Database,
    dossier: str,
    kept: list[Kept],
    refused: list[str],
    place: dict[str, str],
    by: By,
    key: str,
    typed: str | None,
) -> Sent:
    state = state_of(db, dossier)
    here: dict[str, str] = {}
    recorded = False
    for photo in {photo.sha256: photo for photo in kept}.values():
        before = next((p for p in state.photos if p.sha256 == photo.sha256), None)
        change = _change(photo, before, place, typed)
        if change is None:
            if before is not None and place and not _stands_at(before, place):
                here[photo.sha256] = before.part or before.mark or ""
            continue
        # the hash within the key: another photo under the same key is not taken for this one
        own = f"{key[:26] or new_id()}-{photo.sha256[:24]}"
        done = append(db, dossier, [change], by=by, key=own)
        recorded = recorded or not done.repeated
        state = done.state or state
    return Sent(tuple(kept), here, tuple(refused), recorded, state)


def _change(
    photo: Kept, before: PhotoRow | None, place: dict[str, str], typed: str | None
) -> Change | None:
    """What is to be recorded; None where the photo is here already."""
    if before is None or before.withdrawn:
        about: dict[str, object] = {
            "photo": photo.sha256,
            "name": photo.name,
            "type": photo.type,
            "bytes": photo.bytes,
            "width": photo.width,
            "height": photo.height,
            **place,
        }
        if photo.taken:
            about["taken"] = photo.taken
        return Change("photo-added", about, typed)
    if place and not before.mark and not before.part:
        return Change("photo-placed", {"photo": photo.sha256, **place}, typed)
    return None


def _stands_at(row: PhotoRow, place: dict[str, str]) -> bool:
    return all(getattr(row, name) == value for name, value in place.items())


def _text(form: Mapping[str, object], name: str) -> str:
    value = form.get(name)
    return value.strip() if isinstance(value, str) else ""
