"""A picture out of a file: checked before it is unpacked, read to its end, upright, in sRGB."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image, ImageCms

from .exif import orientation_of, taken_of, upright, upright_size
from .photos_kinds import ACCEPTED, HEAD, HEIC, JPEG, PhotoKind, PhotoRefused, recognise

MAX_SIDE = 30_000  # pixels
MAX_PIXELS = 128_000_000  # of a JPEG, which can be unpacked at an eighth of its size
MAX_PIXELS_WHOLE = 64_000_000  # of all others, which are unpacked whole
MAX_SCANS = 100  # of a progressive JPEG: a common one has ten
MAX_PROFILE = 4 * 2**20  # bytes: a longer colour profile is left out of account

# Pillow warns from here on and refuses twice as many; ours is the sentence.
Image.MAX_IMAGE_PIXELS = MAX_PIXELS


@dataclass(frozen=True, slots=True)
class Header:
    """What the head of a picture says: its kind, its size when upright, when it was taken."""

    kind: PhotoKind
    width: int
    height: int
    taken: str | None


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture that has been unpacked.  ``image``: RGB or grey, upright, in sRGB, and nothing
    else: no tags, no profile.  ``plain``: it was in sRGB already and had no transparency.
    """

    header: Header
    image: Image.Image
    orientation: int
    plain: bool


def read_header(path: Path, name: str = "the file") -> Header:
    """What the head of the file at ``path`` says; raises :class:`PhotoRefused`."""
    kind = recognise(_head(path), name)
    with _open(path, kind, name) as image:
        return _header(kind, image)


def read_picture(path: Path, at_least: int | None = None, name: str = "the file") -> Picture:
    """The picture at ``path``, read to its end; raises :class:`PhotoRefused`.

    ``at_least``: unpacking may stop at a size whose sides are at least that many pixels.
    """
    kind = recognise(_head(path), name)
    with _open(path, kind, name) as image:
        header = _header(kind, image)
        if at_least is not None and kind is JPEG:
            image.draft(None, (at_least, at_least))
        try:
            image.load()
            turn = 1 if kind is HEIC else orientation_of(_tags(image))
            profile = image.info.get("icc_profile")
            plain = not profile and image.mode in ("RGB", "L")
            made = upright(_in_srgb(image, profile), turn)
        except Exception as error:
            raise PhotoRefused(_broken(kind, name, error)) from None
    made.info.clear()
    return Picture(header, made, turn, plain)


def _head(path: Path) -> bytes:
    with open(path, "rb") as stream:
        return stream.read(HEAD)


def _open(path: Path, kind: PhotoKind, name: str) -> Any:
    """The picture with its size checked, nothing unpacked yet."""
    if kind is JPEG:
        _check_scans(path, name)
    try:
        image: Any
        if kind is HEIC:
            import pillow_heif

            # turns the picture by itself and takes the tag back: it must not be turned again
            opened = pillow_heif.open_heif(path, convert_hdr_to_8bit=True)
            _check_size(opened.size, kind, name)
            image = opened.to_pillow()
        else:
            image = Image.open(path, formats=(kind.format,))
    except PhotoRefused:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise PhotoRefused(_too_large(kind, name)) from None
    except Exception as error:
        raise PhotoRefused(_broken(kind, name, error)) from None
    try:
        _check_size(image.size, kind, name)
        frames = getattr(image, "n_frames", 1)
    except PhotoRefused:
        image.close()
        raise
    except Exception as error:
        image.close()
        raise PhotoRefused(_broken(kind, name, error)) from None
    # a JPEG with several pictures is a photo with its preview; the first is the photo
    if frames > 1 and kind is not JPEG:
        image.close()
        raise PhotoRefused(
            f"{name}: a moving picture of {frames} frames; accepted: a photo, which stands still"
        )
    return image


def _header(kind: PhotoKind, image: Any) -> Header:
    exif = _tags(image)
    turn = 1 if kind is HEIC else orientation_of(exif)
    width, height = upright_size(image.size, turn)
    return Header(kind, width, height, taken_of(exif))


def _tags(image: Any) -> Image.Exif:
    try:
        return image.getexif()
    except Exception:  # tags that can't be read: the picture may be good all the same
        return Image.Exif()


def _check_size(size: tuple[int, int], kind: PhotoKind, name: str) -> None:
    most = MAX_PIXELS if kind is JPEG else MAX_PIXELS_WHOLE
    if max(size) > MAX_SIDE or size[0] * size[1] > most:
        raise PhotoRefused(_too_large(kind, name, size))
    if min(size) < 1:
        raise PhotoRefused(
            f"{name}: a {kind.words} picture without a single pixel; accepted: {ACCEPTED}"
        )


def _too_large(kind: PhotoKind, name: str, size: tuple[int, int] | None = None) -> str:
    most = MAX_PIXELS if kind is JPEG else MAX_PIXELS_WHOLE
    found = f" of {size[0]:,} × {size[1]:,} pixels" if size else " too large to be unpacked"
    return (
        f"{name}: a {kind.words} picture{found}; accepted: up to {most // 1_000_000} million"
        f" pixels, no side over {MAX_SIDE:,}"
    )


def _check_scans(path: Path, name: str) -> None:
    """Each scan of a progressive JPEG goes over the whole picture: thousands are an attack."""
    scans = path.read_bytes().count(b"\xff\xda")
    if scans > MAX_SCANS:
        raise PhotoRefused(
            f"{name}: a JPEG picture in {scans:,} scans; accepted: up to {MAX_SCANS}"
        )


def _broken(kind: PhotoKind, name: str, error: Exception) -> str:
    said = " ".join(str(error).split())[:120]
    return (
        f"{name}: begins as {kind.words} but can't be read to its end"
        f"{f' ({said})' if said else ''}; accepted: {kind.words} that is whole: take or send it"
        " again"
    )


def _in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """RGB or grey of 8 bits, transparency laid over white, colours as sRGB has them."""
    if image.mode.startswith("I"):  # 16 bits of grey
        image = image.convert("I").point(lambda value: value * (1 / 257)).convert("L")
    if image.mode == "P":
        image = image.convert("RGBA" if "transparency" in image.info else "RGB")
    if image.mode in ("LA", "La", "PA", "RGBa") or "transparency" in image.info:
        image = image.convert("RGBA")
    if image.mode == "RGBA":
        flat = Image.new("RGB", image.size, "white")
        flat.paste(image, mask=image.getchannel("A"))
        image = flat
    if profile and len(profile) <= MAX_PROFILE:
        image = _by_profile(image, profile)
    return image if image.mode in ("RGB", "L") else image.convert("RGB")


def _by_profile(image: Image.Image, profile: bytes) -> Image.Image:
    try:
        made = ImageCms.profileToProfile(
            image,
            ImageCms.ImageCmsProfile(BytesIO(profile)),
            ImageCms.createProfile("sRGB"),
            outputMode="RGB",
        )
    except Exception:  # a profile for another kind of picture, or none: the numbers as they are
        return image
    return made if made is not None else image
