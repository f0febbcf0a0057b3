"""Everything out, so that it can come in again: a zip of events, accounts and photos.

One state of the database is written, however long that takes and whatever is recorded meanwhile.
Nothing is gathered in memory: rows go through a file beside the photos, photos one by one.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO

from sqlalchemy import or_, select

from .. import __version__
from .database import Database
from .exporting_form import MANIFEST, Manifest, Member
from .exporting_rows import ExportRefused, Written, write_rows
from .photos_files import NoPhoto, incoming, original_of
from .tables import dossiers

__all__ = ["ExportRefused", "Step", "dossier_called", "export", "export_to"]

_BLOCK = 2**20
_DAY = (2026, 1, 1, 0, 0, 0)  # of every member: the day says nothing, and the bytes stay the same

Step = Callable[[int, int], None]
"""Told now and then: how much is written, of how much."""


def export(
    db: Database,
    dossier_ids: Sequence[str] | None = None,
    *,
    step: Step = lambda done, of: None,
    now: datetime | None = None,
) -> Iterator[bytes]:
    """The bytes of the archive, block by block.

    ``dossier_ids``: only these, and of accounts and devices only the names that they need; None:
    everything.  Raises :class:`ExportRefused` before the first byte where one is not there.
    """
    at = (now or datetime.now(UTC)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    with TemporaryFile(dir=incoming(db)) as held:
        written = Written()
        rows = write_rows(db, dossier_ids, held, written)
        total = len(written.photos) + 1
        sink = _Sink()
        with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:  # type: ignore[arg-type]
            for name, start, length in rows:
                held.seek(start)
                for _ in _copy(archive, name, _part(held, length), written):
                    yield sink.taken()
            step(1, total)
            for done, sha256 in enumerate(written.photos, start=2):
                _photo(db, archive, sha256, written)
                yield sink.taken()
                step(done, total)
            written.counts["photos"] = len(written.photos) - len(written.missing)
            manifest = Manifest(
                dossier_ids is None,
                __version__,
                at,
                written.counts,
                tuple(written.members),
                tuple(written.missing),
            )
            said = json.dumps(manifest.as_json(), ensure_ascii=False, indent=1).encode()
            with archive.open(_info(MANIFEST), "w") as member:
                member.write(said)
        yield sink.taken()


def export_to(
    db: Database,
    path: Path,
    dossier_ids: Sequence[str] | None = None,
    *,
    step: Step = lambda done, of: None,
    now: datetime | None = None,
) -> None:
    """Write the archive to ``path``; see :func:`export`."""
    with open(path, "xb") as stream:
        try:
            stream.writelines(export(db, dossier_ids, step=step, now=now))
        except BaseException:
            with suppress(OSError):
                path.unlink()
            raise


def dossier_called(db: Database, name: str) -> str | None:
    """The id of the dossier with that number, or with that id; None where there is none."""
    with db.engine.connect() as connection:
        found = connection.execute(
            select(dossiers.c.id).where(or_(dossiers.c.number == name, dossiers.c.id == name))
        ).first()
    return found.id if found else None


# ---- the archive


class _Sink:
    """What the archive writes to: holds it until it is taken."""

    def __init__(self) -> None:
        self._blocks: list[bytes] = []

    def write(self, data: bytes) -> int:
        self._blocks.append(bytes(data))
        return len(data)

    def flush(self) -> None:
        """Nothing to do."""

    def taken(self) -> bytes:
        """Everything since the last time."""
        out = b"".join(self._blocks)
        self._blocks.clear()
        return out


def _info(name: str, *, packed: bool = True) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, _DAY)
    info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
    info.external_attr = 0o644 << 16
    return info


def _part(held: IO[bytes], length: int) -> Iterator[bytes]:
    while length and (block := held.read(min(_BLOCK, length))):
        length -= len(block)
        yield block


def _copy(
    archive: zipfile.ZipFile, name: str, blocks: Iterable[bytes], written: Written
) -> Iterator[None]:
    hashed, size = hashlib.sha256(), 0
    with archive.open(_info(name), "w", force_zip64=True) as member:
        for block in blocks:
            member.write(block)
            hashed.update(block)
            size += len(block)
            yield
    written.members.append(Member(name, size, hashed.hexdigest()))
    yield


def _photo(db: Database, archive: zipfile.ZipFile, sha256: str, written: Written) -> None:
    """The photo as it was taken; one that is lost or damaged is named and left out."""
    try:
        original = original_of(db, sha256)
        data = original.path.read_bytes()
    except (NoPhoto, OSError):
        written.missing.append(sha256)
        return
    if hashlib.sha256(data).hexdigest() != sha256:
        written.missing.append(sha256)
        return
    name = f"photos/{sha256[:2]}/{sha256}.{original.kind.ending}"
    with archive.open(_info(name, packed=False), "w") as member:
        member.write(data)
    written.members.append(Member(name, len(data), sha256))
