"""Which pictures are kept, told by their first bytes and never by their name.

What is no picture that is kept is refused with a sentence that says what it is and what would do.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

HEAD = 4096
"""How many of its first bytes tell what a file is."""

ACCEPTED = "a photo as JPEG, PNG, WebP or HEIC"


class PhotoRefused(ValueError):
    """A file that is not kept; the sentence says what was found and what would be accepted."""


@dataclass(frozen=True, slots=True)
class PhotoKind:
    """A kind of picture: its media type, the ending of its file, its name, Pillow's name."""

    type: str
    ending: str
    words: str
    format: str


JPEG = PhotoKind("image/jpeg", "jpg", "JPEG", "JPEG")
PNG = PhotoKind("image/png", "png", "PNG", "PNG")
WEBP = PhotoKind("image/webp", "webp", "WebP", "WEBP")
HEIC = PhotoKind("image/heic", "heic", "HEIC", "HEIF")
KINDS = (JPEG, PNG, WEBP, HEIC)

_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs", b"mif1",
                b"msf1", b"mif2")  # fmt: skip

# What else is met with, so that the sentence can name it.
_OTHERS: tuple[tuple[bytes, str], ...] = (
    (b"GIF8", "a GIF picture"),
    (b"BM", "a BMP picture"),
    (b"II*\0", "a TIFF or raw file of a camera (DNG, NEF, CR2 …)"),
    (b"MM\0*", "a TIFF or raw file of a camera (DNG, NEF, CR2 …)"),
    (b"II\x1a\0\0\0HEAPCCDR", "a raw file of a camera"),
    (b"%PDF", "a PDF document"),
    (b"%!PS", "a PostScript document"),
    (b"PK\x03\x04", "a zip archive or office document"),
    (b"PK\x05\x06", "an empty zip archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"MZ", "a program"),
    (b"\x7fELF", "a program"),
    (b"#!", "a script"),
    (b"\x00\x00\x01\x00", "an icon"),
    (b"8BPS", "a Photoshop document"),
    (b"\xff\x0a", "a JPEG XL picture"),
    (b"\0\0\0\x0cJXL ", "a JPEG XL picture"),
    (b"\0\0\0\x0cjP  ", "a JPEG 2000 picture"),
    (b"\x1aE\xdf\xa3", "a film (Matroska or WebM)"),
    (b"SQLite format 3\0", "a database"),
)


def recognise(head: bytes, name: str = "the file") -> PhotoKind:
    """The kind of picture that begins with ``head``; raises :class:`PhotoRefused`.

    >>> recognise(b"\\xff\\xd8\\xff\\xe0").words
    'JPEG'
    """
    if head.startswith(b"\xff\xd8\xff"):
        return JPEG
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return PNG
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return WEBP
    if head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS and not _is_avif(head):
        return HEIC
    raise PhotoRefused(f"{name}: {what_it_is(head)}; accepted: {ACCEPTED}")


def what_it_is(head: bytes) -> str:
    """In words, what a file is that begins with ``head`` and is no picture that is kept."""
    if not head:
        return "an empty file"
    for magic, words in _OTHERS:
        if head.startswith(magic):
            return words
    if head[4:8] == b"ftyp":
        return "an AVIF picture" if _is_avif(head) else "a film or sound (MP4, MOV …)"
    if head[:4] == b"RIFF":
        return "a sound or film (WAV, AVI …)"
    start = head.lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if re.match(rb"<(\?xml|!--|!doctype svg|svg)", start) and b"<svg" in start:
        return "an SVG drawing, which can hold programs"
    if re.match(rb"<(!doctype html|html|head|body|script|!--)", start) or b"<script" in start:
        return "a web page (HTML)"
    if start.startswith(b"<"):
        return "a text in XML"
    if b"\0" not in head:
        try:
            head[:-4].decode("utf-8")
            return "a text"
        except UnicodeDecodeError:
            pass
    return "no picture that is known here"


def _is_avif(head: bytes) -> bool:
    length = int.from_bytes(head[:4], "big")
    return b"avif" in head[8 : min(max(length, 12), 256)]


def shown_name(name: str) -> str:
    """A file's name as kept and shown: its last part, no control characters, not too long."""
    last = re.split(r"[/\\]", name)[-1]
    clean = "".join(c for c in last if c.isprintable()).strip()
    clean = clean.encode("utf-8", "replace").decode("utf-8")
    return clean[-120:] or "photo"
