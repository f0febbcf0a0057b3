"""Where photos lie: ``photos/ab/<sha256>.<ending>`` in the shop's folder, each written whole."""

from __future__ import annotations

import contextlib
import os
import re
import time
from dataclasses import dataclass
from pathlib import Path
from tempfile import NamedTemporaryFile

from .database import Database
from .photos_kinds import HEAD, KINDS, PhotoKind, PhotoRefused, recognise

_HASH = re.compile(r"[0-9a-f]{64}")
_A_DAY = 86_400  # seconds


class NoPhoto(LookupError):
    """There is no photo with that hash."""


@dataclass(frozen=True, slots=True)
class Original:
    """An original file: where it lies and what it is, by its content."""

    path: Path
    kind: PhotoKind


def photo_path(db: Database, sha256: str, ending: str) -> Path:
    """Where the original lies, whether it is there or not."""
    return db.folder / "photos" / sha256[:2] / f"{sha256}.{ending}"


def original_of(db: Database, sha256: str) -> Original:
    """The original with that hash; raises :class:`NoPhoto`."""
    for kind in KINDS:
        path = photo_path(db, checked_hash(sha256), kind.ending)
        if path.is_file():
            try:
                with open(path, "rb") as stream:
                    return Original(path, recognise(stream.read(HEAD)))
            except PhotoRefused:
                raise NoPhoto(f"the file of photo {sha256} is damaged") from None
    raise NoPhoto(f"there is no photo {sha256}")


def checked_hash(sha256: str) -> str:
    """The hash, fit to stand in a path; raises :class:`NoPhoto` for what is none."""
    if not _HASH.fullmatch(sha256):
        raise NoPhoto(f"there is no photo {sha256!r:.70}")
    return sha256


def incoming(db: Database) -> Path:
    """The folder for files that are being written; on the same disk as the photos."""
    folder = db.folder / "photos" / "incoming"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def clear_incoming(db: Database, older: float = _A_DAY) -> int:
    """Take away what broken-off uploads left more than ``older`` seconds ago; how many files."""
    cleared = 0
    for path in incoming(db).iterdir():
        with contextlib.suppress(OSError):
            if path.is_file() and time.time() - path.stat().st_mtime > older:
                path.unlink()
                cleared += 1
    return cleared


def put_in_place(written: Path, place: Path) -> None:
    """Move a file whose bytes are on the disk to where it belongs, and make that last."""
    place.parent.mkdir(parents=True, exist_ok=True)
    os.replace(written, place)
    flush_folder(place.parent)


def write_whole(place: Path, data: bytes) -> None:
    """Write a file so that it is there whole or not at all."""
    place.parent.mkdir(parents=True, exist_ok=True)
    with NamedTemporaryFile(dir=place.parent, prefix=".", suffix=".part", delete=False) as stream:
        written = Path(stream.name)
        try:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        except BaseException:
            written.unlink(missing_ok=True)
            raise
    os.chmod(written, 0o644)
    os.replace(written, place)


def flush_folder(folder: Path) -> None:
    """Have the names in a folder on the disk, where the system can do that."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
