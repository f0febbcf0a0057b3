"""Pictures made for the tests: a face that tells which way is up, with what cameras write beside."""

from __future__ import annotations

import io
from typing import Any

from PIL import Image, ImageDraw

SECRETS = (b"Serial-4711", b"MakerNote-991", b"CameraOwner", b"GPSplace", b"comment of the camera")


def scene(width: int = 400, height: int = 300) -> Image.Image:
    """Red above left, green above right, blue below left, white below right."""
    image = Image.new("RGB", (width, height), "white")
    draw = ImageDraw.Draw(image)
    half = (width // 2, height // 2)
    draw.rectangle((0, 0, half[0] - 1, half[1] - 1), fill=(220, 20, 20))
    draw.rectangle((half[0], 0, width, half[1] - 1), fill=(20, 180, 20))
    draw.rectangle((0, half[1], half[0] - 1, height), fill=(20, 20, 220))
    return image


def corners(image: Image.Image) -> str:
    """The colours of the four quarters, above left first: 'rgbw' for an upright scene."""
    seen = image.convert("RGB")
    w, h = seen.size
    spots = [(w // 4, h // 4), (3 * w // 4, h // 4), (w // 4, 3 * h // 4), (3 * w // 4, 3 * h // 4)]
    out = ""
    for spot in spots:
        colour: Any = seen.getpixel(spot)
        r, g, b = colour
        out += "w" if min(r, g, b) > 180 else "rgb"[(r, g, b).index(max(r, g, b))]
    return out


def held(image: Image.Image, orientation: int) -> Image.Image:
    """The pixels as a camera held that way would store them."""
    back = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }.get(orientation)
    return image if back is None else image.transpose(back)


def tags(orientation: int = 1, taken: str = "2026:03:02 14:05:06", zone: str = "") -> Image.Exif:
    """What a phone writes: time, place, serial number, its maker's notes."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "Camera of nobody"
    inner = exif.get_ifd(0x8769)
    inner[0x9003] = taken
    if zone:
        inner[0x9011] = zone
    inner[0xA431] = SECRETS[0].decode()
    inner[0x927C] = SECRETS[1]
    inner[0xA430] = SECRETS[2].decode()
    place = exif.get_ifd(0x8825)
    place[1], place[2] = "N", (52.0, 31.0, 12.0)
    place[3], place[4] = "E", (13.0, 24.0, 36.0)
    place[0x1B] = SECRETS[3]
    return exif


def jpeg(
    orientation: int = 1, *, size: tuple[int, int] = (400, 300), exif: Image.Exif | None = None,
    **options: Any,
) -> bytes:  # fmt: skip
    """A JPEG as a phone makes it."""
    out = io.BytesIO()
    written = tags(orientation) if exif is None else exif
    held(scene(*size), orientation).save(
        out, "JPEG", quality=92, exif=written, comment=SECRETS[4], **options
    )
    return out.getvalue()


def saved(image: Image.Image, form: str, **options: Any) -> bytes:
    """The picture in that form."""
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def heic(image: Image.Image, **options: Any) -> bytes:
    """The picture as HEIC."""
    import pillow_heif

    out = io.BytesIO()
    pillow_heif.from_pillow(image).save(out, quality=90, **options)
    return out.getvalue()
