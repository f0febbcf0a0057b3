"""Photos out of an export: written beside their places, put there together, or none of them."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from tempfile import NamedTemporaryFile
from types import TracebackType

from .database import Database
from .importing_archive import Archive
from .importing_errors import ImportRefused
from .photos import hash_of
from .photos_decode import read_header
from .photos_files import incoming, photo_path, put_in_place
from .photos_kinds import PhotoRefused


class Photos:
    """The photos of one import; those that are new go again unless :meth:`keep` is called."""

    def __init__(self, db: Database) -> None:
        self._db = db
        self._written: list[tuple[Path, Path]] = []
        self._placed: list[Path] = []
        self.new = 0

    def __enter__(self) -> Photos:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for written, _ in self._written:
            written.unlink(missing_ok=True)
        for placed in self._placed:
            placed.unlink(missing_ok=True)

    def take(
        self, archive: Archive, members: Sequence[str], step: Callable[[int, int], None]
    ) -> None:
        """Write the photos beside their places; raises :class:`ImportRefused` for no photo."""
        for done, name in enumerate(members, start=1):
            sha256, _, ending = name.rpartition("/")[2].partition(".")
            place = photo_path(self._db, sha256, ending)
            if not (place.is_file() and hash_of(place) == sha256):
                self._take(archive, name, place, ending)
            step(done, len(members))

    def put_in_place(self) -> None:
        """Give them their names."""
        for written, place in self._written:
            new = not place.exists()
            put_in_place(written, place)
            if new:
                self._placed.append(place)
        self.new = len(self._written)
        self._written.clear()

    def keep(self) -> None:
        """They stay."""
        self._placed.clear()

    def _take(self, archive: Archive, name: str, place: Path, ending: str) -> None:
        with NamedTemporaryFile(dir=incoming(self._db), suffix=".part", delete=False) as part:
            written = Path(part.name)
            self._written.append((written, place))
            for block in archive.blocks(name):
                part.write(block)
            part.flush()
            os.fsync(part.fileno())
        os.chmod(written, 0o644)
        try:
            kind = read_header(written, name).kind
        except PhotoRefused as error:
            raise ImportRefused(str(error)) from None
        if kind.ending != ending:
            raise ImportRefused(f"{name} is {kind.words}, not what its name says")
