"""What a camera wrote beside the picture: when it was taken, and which way up it was held."""

from __future__ import annotations

import re
from datetime import datetime

from PIL import Image

ORIENTATION = 0x0112
_EXIF = 0x8769
_TAKEN = ((0x9003, 0x9011), (0x9004, 0x9012))  # original, digitized; each with its time zone
_CHANGED = (0x0132, 0x9010)


def taken_of(exif: Image.Exif) -> str | None:
    """When the picture was taken by the camera's clock, ISO 8601; None where that is not said.

    The time zone is there only where the camera gave one.
    """
    try:
        inner = exif.get_ifd(_EXIF)
    except Exception:  # a broken table of tags is no reason to lose the picture
        inner = {}
    for table, tags in ((inner, _TAKEN[0]), (inner, _TAKEN[1]), (dict(exif), _CHANGED)):
        taken = _time(table.get(tags[0]))
        if taken:
            zone = table.get(tags[1]) or inner.get(tags[1])
            return taken + _zone(zone)
    return None


def orientation_of(exif: Image.Exif) -> int:
    """1 to 8, as EXIF numbers them; 1 (upright) where nothing sensible is said."""
    value = exif.get(ORIENTATION)
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def upright(image: Image.Image, orientation: int) -> Image.Image:
    """The picture turned so that its top is up."""
    method = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }.get(orientation)
    return image if method is None else image.transpose(method)


def upright_size(size: tuple[int, int], orientation: int) -> tuple[int, int]:
    """Width and height as they are when the picture is turned upright."""
    return (size[1], size[0]) if orientation >= 5 else size


def _time(value: object) -> str | None:
    if not isinstance(value, str):
        return None
    found = re.match(r"\s*(\d{4})[:.-](\d{2})[:.-](\d{2})[ T](\d{2}):(\d{2}):(\d{2})", value)
    if not found:
        return None
    try:
        year, month, day, hour, minute, second = (int(group) for group in found.groups())
        return datetime(year, month, day, hour, minute, second).isoformat()
    except ValueError:  # 0000:00:00, a clock that was never set
        return None


def _zone(value: object) -> str:
    good = isinstance(value, str) and re.fullmatch(r"[+-](0\d|1[0-4]):[0-5]\d|Z", value.strip())
    return value.strip() if good and isinstance(value, str) else ""
