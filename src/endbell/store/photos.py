"""Photos kept as they were taken, under the SHA-256 of their bytes, for ever.

``keep`` takes one in, ``open_photo`` gives it back, ``without_location`` makes the copy that may
leave the shop.  A file is written beside its place while it is hashed, read to its end as a
picture, flushed to the disk, and only then given its name.
"""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import IO

from .database import Database
from .photos_decode import Header, Picture, read_picture
from .photos_files import (
    NoPhoto,
    Original,
    clear_incoming,
    incoming,
    original_of,
    photo_path,
    put_in_place,
)
from .photos_kinds import ACCEPTED, PhotoRefused, shown_name
from .photos_outgoing import outgoing, without_location
from .thumbs import SIZES, make_thumbs, thumb, thumb_path, thumb_there

__all__ = [
    "ACCEPTED",
    "MAX_BYTES",
    "SIZES",
    "Kept",
    "NoPhoto",
    "NoRoom",
    "Original",
    "PhotoRefused",
    "clear_incoming",
    "keep",
    "open_photo",
    "outgoing",
    "photo_path",
    "shown_name",
    "thumb",
    "thumb_path",
    "thumb_there",
    "without_location",
]

MAX_BYTES = 64 * 2**20


class NoRoom(OSError):
    """The disk is full; nothing of what was there before is lost."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A photo that is kept.  ``type``: its media type by its content; ``width`` and ``height``:
    upright, in pixels; ``taken``: by the camera's clock; ``repeated``: it was there before.
    """

    sha256: str
    name: str
    type: str
    bytes: int
    width: int
    height: int
    taken: str | None
    repeated: bool


def keep(db: Database, stream: Iterable[bytes], name: str, *, max_bytes: int = MAX_BYTES) -> Kept:
    """Keep the photo whose bytes ``stream`` gives; ``name`` is only for people to read.

    The same bytes again are the same photo, and mend it where its file was damaged.  Raises
    :class:`PhotoRefused` (one sentence: found, accepted) for what is no photo, :class:`NoRoom`
    where the disk is full; nothing stays behind then.
    """
    name = shown_name(name)
    written: Path | None = None
    try:
        with NamedTemporaryFile(dir=incoming(db), suffix=".part", delete=False) as part:
            written = Path(part.name)
            sha256, size = _write(part, stream, name, max_bytes)
        picture = read_picture(written, max(SIZES), name)
        repeated = _place(db, written, sha256, picture.header)
        _make_thumbs(db, sha256, picture)
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise NoRoom(
                f"{name}: the disk is full, so this photo is not kept; everything kept before is"
                " still there. Make room, then send it again"
            ) from None
        raise
    finally:
        if written is not None:
            written.unlink(missing_ok=True)
    header = picture.header
    return Kept(
        sha256,
        name,
        header.kind.type,
        size,
        header.width,
        header.height,
        header.taken,
        repeated,
    )


def open_photo(db: Database, sha256: str) -> Original:
    """The original file and what it is; raises :class:`NoPhoto`."""
    return original_of(db, sha256)


def hash_of(path: Path) -> str:
    """SHA-256 of a file (hex)."""
    with open(path, "rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _write(part: IO[bytes], stream: Iterable[bytes], name: str, max_bytes: int) -> tuple[str, int]:
    hashed = hashlib.sha256()
    size = 0
    for block in stream:
        size += len(block)
        if size > max_bytes:
            raise PhotoRefused(
                f"{name}: more than {max_bytes / 2**20:,.0f} MB; accepted: {ACCEPTED} of up to that"
            )
        hashed.update(block)
        part.write(block)
    part.flush()
    os.fsync(part.fileno())
    return hashed.hexdigest(), size


def _place(db: Database, written: Path, sha256: str, header: Header) -> bool:
    """Give the file its name; True where the photo was there before, whole."""
    place = photo_path(db, sha256, header.kind.ending)
    if place.is_file() and hash_of(place) == sha256:
        return True
    os.chmod(written, 0o644)
    put_in_place(written, place)
    return False


def _make_thumbs(db: Database, sha256: str, picture: Picture) -> None:
    """Small pictures now, while the photo is unpacked; those that fail are made when asked for."""
    if all(thumb_path(db, sha256, size).is_file() for size in SIZES):
        return
    try:
        make_thumbs(db, sha256, picture)
    except OSError:
        return
