"""Files that mean harm, or are no photos: each with its name and what the sentence says of it."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Callable

from .pictures import heic, jpeg, saved, scene


def chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(width: int, height: int, *chunks: bytes, bits: int = 8, colours: int = 2) -> bytes:
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, bits, colours, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(chunks) + chunk(b"IEND", b"")


def png_bomb() -> bytes:
    """A thousand million black pixels in a few kilobytes."""
    packer = zlib.compressobj(9)
    rows = b"".join(packer.compress(b"\0" * 3_750) for _ in range(40)) + packer.flush()
    return png(30_000, 30_000, chunk(b"IDAT", rows), bits=1, colours=0)


def png_text_bomb() -> bytes:
    text = b"Comment\0\0" + zlib.compress(b"A" * 20_000_000, 9)
    pixels = zlib.compress(b"\0\0\0\0" * 1)
    return png(1, 1, chunk(b"zTXt", text), chunk(b"IDAT", pixels))


def tall_jpeg() -> bytes:
    """The head says 65,500 × 65,500 pixels."""
    data = bytearray(jpeg())
    at = data.index(b"\xff\xc0")
    data[at + 5 : at + 9] = struct.pack(">HH", 65_500, 65_500)
    return bytes(data)


def jpeg_of_many_scans() -> bytes:
    """One scan of a progressive JPEG, ten thousand times."""
    data = jpeg(progressive=True)
    first = data.index(b"\xff\xda", data.index(b"\xff\xc2"))
    second = data.index(b"\xff\xda", first + 2)
    return data[:first] + data[first:second] * 10_000 + data[first:]


def zip_bomb() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("photo.jpg", b"\0" * 8_000_000)
    return out.getvalue()


def moving(form: str) -> bytes:
    frames = [scene(32, 32), scene(32, 32).rotate(90), scene(32, 32).rotate(180)]
    return saved(frames[0], form, save_all=True, append_images=frames[1:], duration=50)


SVG = (
    b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
)
HTML = b"<!DOCTYPE html><html><script>fetch('/accounts')</script></html>"
MP4 = b"\0\0\0\x18ftypisom\0\0\0\0isomiso2" + b"\0" * 100
AVIF = b"\0\0\0\x1cftypmif1\0\0\0\0mif1avifmiaf" + b"\0" * 100

# name of the file, its bytes, what the sentence says of it
REFUSED: dict[str, tuple[str, Callable[[], bytes], str]] = {
    "nothing at all": ("a.jpg", lambda: b"", "an empty file"),
    "a web page called .jpg": ("a.jpg", lambda: HTML, "a web page"),
    "a drawing with a program in it": ("a.png", lambda: SVG, "an SVG drawing"),
    "a drawing that begins with a remark": ("a.jpg", lambda: b"<!-- x -->" + SVG[21:], "SVG"),
    "a program": ("a.jpg", lambda: b"MZ\x90\0" + b"\0" * 200, "a program"),
    "a zip that unpacks to anything": ("a.jpg", zip_bomb, "a zip archive"),
    "a document": ("a.jpg", lambda: b"%PDF-1.7\n1 0 obj", "a PDF document"),
    "a film": ("a.heic", lambda: MP4, "a film"),
    "a moving GIF": ("a.gif", lambda: moving("GIF"), "a GIF picture"),
    "a scan as TIFF": ("a.tif", lambda: saved(scene(), "TIFF"), "TIFF or raw"),
    "an AVIF": ("a.heic", lambda: AVIF, "an AVIF picture"),
    "a text": ("notes.jpg", lambda: b"992-5738 pot 1\n" * 9, "a text"),
    "a script for Python": ("a.jpg", lambda: b"#!/usr/bin/python\nprint(1)", "a script"),
    "a moving PNG": ("a.png", lambda: moving("PNG"), "a moving picture of 3 frames"),
    "a moving WebP": ("a.webp", lambda: moving("WEBP"), "a moving picture of 3 frames"),
    "a PNG that unpacks to gigabytes": ("a.png", png_bomb, "up to 64 million pixels"),
    "a PNG whose remark unpacks to gigabytes": ("a.png", png_text_bomb, "can't be read"),
    "a JPEG of huge size": ("a.jpg", tall_jpeg, "JPEG picture"),
    "a JPEG of ten thousand scans": ("a.jpg", jpeg_of_many_scans, "scans"),
    "half a JPEG": ("a.jpg", lambda: jpeg()[:3_000], "can't be read to its end"),
    "half a PNG": ("a.png", lambda: saved(scene(), "PNG")[:400], "can't be read to its end"),
    "half a WebP": ("a.webp", lambda: saved(scene(), "WEBP")[:300], "can't be read to its end"),
    "half a HEIC": ("a.heic", lambda: heic(scene())[:600], "can't be read to its end"),
    "a PNG without pixels": ("a.png", lambda: png(0, 0), "PNG"),
    "only the first bytes of a JPEG": ("a.jpg", lambda: b"\xff\xd8\xff\xe0", "begins as JPEG"),
    "a HEIC of rubbish": ("a.heic", lambda: heic(scene())[:64] + b"\xff" * 4000, "begins as HEIC"),
}

# a photo and something else: kept as they are, and only ever a photo
TWO_FACED: dict[str, Callable[[], bytes]] = {
    "a photo with an archive behind it": lambda: jpeg() + zip_bomb(),
    "a photo with a web page behind it": lambda: jpeg() + HTML,
    "a photo with a web page in its remark": lambda: (
        jpeg()[:2] + b"\xff\xfe" + struct.pack(">H", len(HTML) + 2) + HTML + jpeg()[2:]
    ),
    "a photo with a program behind it": lambda: saved(scene(), "PNG") + b"MZ\x90\0#!/bin/sh",
    "a picture with a document in it": lambda: png(
        1, 1, chunk(b"tEXt", b"x\0%PDF-1.7 <script>"), chunk(b"IDAT", zlib.compress(b"\0\0\0\0"))
    ),
}
