"""A JPEG without anything but its picture, and the picture not touched.

A JPEG file is a row of segments (ISO/IEC 10918-1, annex B).  Those that the picture is made of are
copied byte for byte; every other is left out: EXIF with place and serial numbers, XMP, maker notes,
previews, comments, and whatever follows the end.
"""

from __future__ import annotations

import re

_FRAMES = (0xC0, 0xC1, 0xC2)  # baseline, extended, progressive
_TABLES = (0xC4, 0xDB, 0xDD)  # Huffman tables, quantization tables, restart interval
_SCAN = 0xDA
_END = 0xD9
_ADOBE = 0xEE
_JFIF = b"\xff\xe0\0\x10JFIF\0\1\1\0\0\1\0\1\0\0"
_NEXT = re.compile(rb"\xff[^\0\xd0-\xd7\xff]")  # a marker that ends the data of a scan


class NotPlain(ValueError):
    """A JPEG that can't be taken apart so; it has to be made anew from its pixels."""


def picture_alone(data: bytes, orientation: int) -> bytes:
    """The JPEG ``data`` with nothing but its picture, and which way up it is.

    Raises :class:`NotPlain` where its segments don't stand as they should.
    """
    out = [b"\xff\xd8", _JFIF]
    if orientation != 1:
        out.append(_orientation_only(orientation))
    at = 2
    framed = False
    while True:
        while data[at : at + 2] == b"\xff\xff":  # fill bytes
            at += 1
        if at + 2 > len(data) or data[at] != 0xFF:
            raise NotPlain("no marker where one should be")
        marker = data[at + 1]
        if marker == _END:
            if not framed:
                raise NotPlain("no picture before its end")
            return b"".join((*out, b"\xff\xd9"))
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        end = at + 2 + length
        if length < 2 or end > len(data):
            raise NotPlain("a segment longer than the file")
        framed = framed or marker in _FRAMES
        if marker in _FRAMES or marker in _TABLES or marker == _SCAN:
            out.append(data[at:end])
        elif marker == _ADOBE and data[at + 4 : at + 9] == b"Adobe" and length == 14:
            out.append(data[at:end])  # says how the colours are coded
        elif not (0xE0 <= marker <= 0xEF or marker == 0xFE):
            raise NotPlain(f"a segment {marker:02X}")
        at = end
        if marker == _SCAN:
            following = _NEXT.search(data, at)
            if following is None:
                raise NotPlain("no end")
            out.append(data[at : following.start()])
            at = following.start()


def _orientation_only(orientation: int) -> bytes:
    """An EXIF segment that says which way up, and nothing else."""
    tiff = b"MM\0*\0\0\0\x08\0\1\x01\x12\0\3\0\0\0\1" + bytes((0, orientation)) + b"\0" * 6
    body = b"Exif\0\0" + tiff
    return b"\xff\xe1" + (len(body) + 2).to_bytes(2, "big") + body
