"""Small pictures of photos: upright, in sRGB, as WebP, and nothing in them but the picture.

They follow from the originals and may be thrown away at any time; one that is missing is made again
when it is asked for.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

from PIL import Image

from .database import Database
from .photos_decode import Picture, read_picture
from .photos_files import checked_hash, original_of, write_whole

SIZES = (320, 1280)
"""The longer side, in pixels."""

_QUALITY = 80


def thumb_path(db: Database, sha256: str, size: int) -> Path:
    """Where the small picture lies, whether it is there or not."""
    return db.folder / "thumbs" / sha256[:2] / f"{sha256}-{size}.webp"


def thumb(db: Database, sha256: str, size: int) -> Path:
    """The small picture, made now if it is missing.

    Raises :class:`~endbell.store.photos_files.NoPhoto` where the original is missing too,
    ``ValueError`` for a size that is none of :data:`SIZES`.
    """
    if size not in SIZES:
        raise ValueError(f"a small picture of {size} pixels; accepted: {SIZES[0]}, {SIZES[1]}")
    if thumb_there(db, sha256, size) is None:
        make_thumbs(db, sha256, read_picture(original_of(db, sha256).path, max(SIZES)))
    return thumb_path(db, sha256, size)


def thumb_there(db: Database, sha256: str, size: int) -> Path | None:
    """The small picture if it has been made; raises
    :class:`~endbell.store.photos_files.NoPhoto` for what is no hash."""
    path = thumb_path(db, checked_hash(sha256), size)
    return path if path.is_file() and path.stat().st_size else None


def make_thumbs(db: Database, sha256: str, picture: Picture) -> None:
    """Write every size of a picture that has been unpacked."""
    image = picture.image
    for size in sorted(SIZES, reverse=True):
        image = _shrunk(image, size)
        made = BytesIO()
        image.save(made, "WEBP", quality=_QUALITY, method=4, exif=b"", icc_profile=b"")
        write_whole(thumb_path(db, sha256, size), made.getvalue())


def _shrunk(image: Image.Image, size: int) -> Image.Image:
    scale = size / max(image.size)
    if scale >= 1:
        return image
    width, height = (max(1, round(side * scale)) for side in image.size)
    return image.resize((width, height), Image.Resampling.LANCZOS, reducing_gap=3.0)
