"""A photo as it may leave the shop: the picture, upright, and nothing about who, where, with what.

The original stays as it was taken; this is made from it for shared pages and printed documents.
"""

from __future__ import annotations

import os
from io import BytesIO
from pathlib import Path
from tempfile import NamedTemporaryFile

from .database import Database
from .photos_decode import read_picture
from .photos_files import Original, original_of, write_whole
from .photos_jpeg import NotPlain, picture_alone
from .photos_kinds import JPEG, PNG, recognise

QUALITY = 92


def without_location(original: bytes | Path) -> bytes:
    """The photo without place, time, camera, serial numbers, previews, comments or profile.

    A JPEG in sRGB keeps its picture byte for byte, a PNG its pixels; all else becomes JPEG in sRGB.
    Raises :class:`~endbell.store.photos_kinds.PhotoRefused` for what is no photo.
    """
    if isinstance(original, bytes):
        with NamedTemporaryFile(suffix=".photo", delete=False) as stream:
            stream.write(original)
        try:
            return without_location(Path(stream.name))
        finally:
            os.unlink(stream.name)
    picture = read_picture(original)
    kind = picture.header.kind
    if kind is JPEG and picture.plain:
        try:
            return picture_alone(original.read_bytes(), picture.orientation)
        except NotPlain:
            pass
    made = BytesIO()
    if kind is PNG:
        picture.image.save(made, "PNG", optimize=False)
    else:
        picture.image.save(made, "JPEG", quality=QUALITY, subsampling=0)
    return made.getvalue()


def outgoing(db: Database, sha256: str) -> Original:
    """The copy of a photo that may leave the shop, made when it is first asked for.

    Raises :class:`~endbell.store.photos_files.NoPhoto`.
    """
    original = original_of(db, sha256)
    kind = PNG if original.kind is PNG else JPEG
    path = db.folder / "copies" / sha256[:2] / f"{sha256}.{kind.ending}"
    if not path.is_file() or not path.stat().st_size:
        data = without_location(original.path)
        assert recognise(data) is kind
        write_whole(path, data)
    return Original(path, kind)
