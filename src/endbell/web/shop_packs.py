"""The packs in force at this shop: those that are shipped and the shop's own, from its database.

The shop's own packs are written into a folder that is named after what they hold and never changed
afterwards, so that whoever loads from it sees all of them or none.
"""

from __future__ import annotations

import hashlib
import shutil
import threading
import time
import uuid
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from ..batch.packs import Packs, Settings
from ..reference import PackError, PackInfo, PackProblem, Reference, available_packs
from ..store import SHOP, Database
from ..store.append import last_event
from ..store.events import canonical
from ..store.shop_packs import Files, pack_files

LOOK_AGAIN = 0.5
"""Seconds after which it is looked whether another process has recorded something."""

KEPT = 3
"""Folders of earlier states that are kept: somebody may still be loading from one."""


@dataclass(frozen=True, slots=True)
class PacksNow:
    """The packs as they are now.  ``folder``: the shop's own; ``stamp``: changes when they do."""

    folder: str
    stamp: str

    @property
    def search(self) -> tuple[Path, ...]:
        """The folders to look through, as ``load_reference`` takes them."""
        return (Path(self.folder),) if self.folder else ()


SHIPPED_ONLY = PacksNow("", "shipped")
"""No pack of the shop's own."""


class ShopPacks:
    """The packs in force, loaded once for each state of the shop's own.  Safe in any thread."""

    def __init__(self, db: Database, folder: Path | None = None) -> None:
        self._db = db
        self._folder = folder or db.folder / "packs"
        self._lock = threading.Lock()
        self._seen = -1
        self._own = -1
        self._looked = 0.0
        self._now = SHIPPED_ONLY
        self._packs = Packs(Settings())

    def now(self) -> PacksNow:
        """The state of the packs.  What this process records holds at once, what another one does
        within :data:`LOOK_AGAIN`; so that most requests need not ask the database.
        """
        own, at = self._db.recorded[SHOP], time.monotonic()
        if own == self._own and at - self._looked < LOOK_AGAIN:
            return self._now
        last = last_event(self._db, SHOP)
        with self._lock:
            self._own, self._looked = own, at
            if last != self._seen:
                self._take(pack_files(self._db))
                self._seen = last
            return self._now

    def reference(self, packs: Sequence[str]) -> Reference:
        """The merged reference of the packs a dossier names; raises ``PackError``."""
        self.now()
        with self._lock:
            return self._packs.reference(tuple(packs))

    def problems(self, packs: Sequence[str]) -> tuple[PackProblem, ...]:
        """The rows that were left out of :meth:`reference`."""
        with suppress(PackError):
            self.reference(packs)
        with self._lock:
            return self._packs.problems.get(tuple(packs), ())

    def available(self) -> tuple[PackInfo, ...]:
        """Every pack that a dossier could name."""
        return _available(self.now().search)

    @property
    def own(self) -> tuple[str, ...]:
        """The shop's own, by name."""
        return tuple(sorted(info.id for info in self.available() if not info.shipped))

    def _take(self, files: Files) -> None:
        stamp = hashlib.sha256(canonical(files).encode()).hexdigest()[:16] if files else "shipped"
        if stamp == self._now.stamp:
            return
        folder = ""
        if files:
            folder = str(_written(self._folder, stamp, files))
            _tidied(self._folder, Path(folder))
        self._now = PacksNow(folder, stamp)
        self._packs = Packs(Settings(search=(folder,) if folder else ()))


@lru_cache(maxsize=8)
def _available(search: tuple[Path, ...]) -> tuple[PackInfo, ...]:
    # what is shipped stays as it is while the server runs; a folder of the shop's never changes
    return available_packs(search)


def _written(place: Path, stamp: str, files: Files) -> Path:
    """The folder of this state; it is there whole or not at all."""
    folder = place / stamp
    if folder.is_dir():
        return folder
    under_way = place / f".{stamp}-{uuid.uuid4().hex[:8]}"
    for pack, texts in files.items():
        (under_way / pack).mkdir(parents=True)
        for name, text in texts.items():
            (under_way / pack / name).write_text(text, encoding="utf-8", newline="")
    try:
        under_way.rename(folder)
    except OSError:  # another server on this database was quicker
        shutil.rmtree(under_way, ignore_errors=True)
        if not folder.is_dir():
            raise
    return folder


def _tidied(place: Path, now: Path) -> None:
    """Remove all but the latest few states."""
    others = [f for f in place.iterdir() if f.is_dir() and f != now]
    others.sort(key=lambda f: f.stat().st_mtime, reverse=True)
    for old in others[KEPT:]:
        shutil.rmtree(old, ignore_errors=True)
