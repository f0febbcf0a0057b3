"""Static files: known beforehand, kept in memory, their address changing with their content."""

from __future__ import annotations

import gzip
import hashlib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

TYPES = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".txt": "text/plain; charset=utf-8",
}
"""Only these are served."""

TEXT = (".css", ".js", ".svg", ".json", ".webmanifest", ".txt")


@dataclass(frozen=True, slots=True)
class Asset:
    """A file as it is sent."""

    type: str
    raw: bytes
    packed: bytes | None
    tag: str


class Assets:
    """Every file of ``static/``.  ``stamp`` follows from all of them together.

    One stamp for all: a script that imports its neighbour by a relative address gets the neighbour
    of its own age.
    """

    def __init__(self) -> None:
        self._files: dict[str, Asset] = {}
        _gather(files("endbell.web") / "static", "", self._files)
        whole = hashlib.sha256()
        for name in sorted(self._files):
            whole.update(name.encode() + b"\0" + self._files[name].tag.encode())
        self.stamp = whole.hexdigest()[:12]

    def address(self, name: str) -> str:
        """The address of a file: ``/static/<stamp>/app.css``.  KeyError: there is none such."""
        self._files[name]
        return f"/static/{self.stamp}/{name}"

    def get(self, name: str) -> Asset | None:
        """The file with that name."""
        return self._files.get(name)

    def names(self) -> tuple[str, ...]:
        """Every file."""
        return tuple(sorted(self._files))


@cache
def shipped() -> Assets:
    """The files as they are shipped, read once."""
    return Assets()


def _gather(folder: Traversable, prefix: str, into: dict[str, Asset]) -> None:
    for entry in folder.iterdir():
        name = prefix + entry.name
        if entry.is_dir():
            _gather(entry, f"{name}/", into)
            continue
        ending = entry.name[entry.name.rfind(".") :]
        if ending in TYPES:
            raw = entry.read_bytes()
            packed = gzip.compress(raw, 9, mtime=0) if ending in TEXT else None
            into[name] = Asset(TYPES[ending], raw, packed, hashlib.sha256(raw).hexdigest()[:16])
