"""Archives of dossiers, read member by member and never unpacked to disk.

What an archive may be is limited, because a small one can unpack to anything: every limit is one
of the numbers below, and passing one stops that archive with a sentence, at the member it was at.
"""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import os
import tarfile
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Any

from ..dossier.limits import MAX_BYTES
from .errors import InputUnreadable
from .folders import DOSSIER
from .items import FaultItem, FileItem

ZIP = (".zip",)
TAR = (".tar", ".tar.gz", ".tgz", ".tar.xz", ".txz", ".tar.bz2", ".tbz2")

MAX_ZIP_MEMBERS = 500_000  # a zip's list of contents is held in memory; a tar has none
MAX_MEMBER = 64 * 2**20  # bytes of any one member of a tar, photos and all
MAX_UNPACKED = 64 * 2**30  # bytes of all of it
MAX_RATIO = 500  # bytes out for a byte in; dossiers alike to the letter give some 100
RATIO_FROM = 64 * 2**20  # below this many bytes out any ratio is harmless

# zipfile raises NotImplementedError for a way of packing it doesn't know, RuntimeError for a
# member that is encrypted
_BROKEN = (
    tarfile.TarError, zipfile.BadZipFile, zlib.error, lzma.LZMAError, gzip.BadGzipFile,
    EOFError, OSError, RuntimeError, NotImplementedError, ValueError,
)  # fmt: skip


def is_archive(path: Path) -> bool:
    """Whether the name is that of an archive."""
    return path.name.lower().endswith((*ZIP, *TAR))


def is_zip(path: Path) -> bool:
    """Whether the name is that of an archive whose members can be counted beforehand."""
    return path.name.lower().endswith(ZIP)


def members(
    path: Path, left: Counter[str] | None = None, at: Callable[[int], None] = lambda place: None
) -> Iterator[FileItem | FaultItem]:
    """Every dossier of an archive, in the archive's order; ``left`` counts the other members.

    ``at`` hears up to which byte of a tar it has come.

    A member too large to be a dossier, or that can't be unpacked, is a fault in its place.  An
    archive that is broken or passes a limit ends with a :class:`FaultItem` for the whole.
    """
    others = Counter[str]() if left is None else left
    try:
        if is_zip(path):
            yield from _zip_members(path, others)
        else:
            yield from _tar_members(path, others, at)
    except InputUnreadable as error:
        yield FaultItem(str(path), str(error))
    except _BROKEN as error:
        said = " ".join(str(error).split()) or type(error).__name__
        yield FaultItem(str(path), f"{path}: the archive can't be read on from here ({said})")


def count_members(path: Path) -> int | None:
    """How many dossiers a zip holds; None for a tar, which would have to be unpacked to know."""
    if not is_zip(path):
        return None
    try:
        _check_zip(path)
        with zipfile.ZipFile(path) as archive:
            return sum(_is_dossier(info.filename) for info in archive.infolist())
    except (InputUnreadable, *_BROKEN):
        return 1  # the sentence that stands in its place


def _is_dossier(name: str) -> bool:
    last = name.rpartition("/")[2].lower()
    return last.endswith(DOSSIER) and not last.startswith("._")  # shadows that some systems add


def _count(name: str, left: Counter[str]) -> None:
    left[os.path.splitext(name)[1].lower()] += 1


# ---- zip


def _zip_members(path: Path, left: Counter[str]) -> Iterator[FileItem | FaultItem]:
    _check_zip(path)
    unpacked = 0
    with zipfile.ZipFile(path) as archive:
        for info in archive.infolist():
            if info.is_dir():
                continue
            if not _is_dossier(info.filename):
                _count(info.filename, left)
                continue
            file = f"{path}/{info.filename}"
            try:
                with archive.open(info) as stream:
                    data = stream.read(MAX_BYTES + 1)  # whatever size the archive claims
            except _BROKEN as error:
                said = " ".join(str(error).split())
                yield FaultItem(file, f"{file}: can't be unpacked: {said}")
                continue
            unpacked += len(data)
            _check_size(path, unpacked, path.stat().st_size)
            yield FileItem(file, data)


def _check_zip(path: Path) -> None:
    """Refuse a list of contents too long to hold, before it is read."""
    with open(path, "rb") as stream:
        stream.seek(0, io.SEEK_END)
        stream.seek(max(stream.tell() - 65_557, 0))  # the end record and its longest comment
        tail = stream.read()
    at = tail.rfind(b"PK\5\6")
    if at < 0 or len(tail) < at + 16:
        raise InputUnreadable(f"{path}: not a zip archive, or only the beginning of one")
    listed = int.from_bytes(tail[at + 12 : at + 16], "little")
    large = tail.rfind(b"PK\6\6", 0, at)
    if large >= 0 and len(tail) >= large + 48:
        listed = int.from_bytes(tail[large + 40 : large + 48], "little")
    if listed > MAX_ZIP_MEMBERS * 100:  # 46 bytes and a name each
        raise InputUnreadable(
            f"{path}: its list of contents has {listed / 1e6:,.0f} MB; at most some"
            f" {MAX_ZIP_MEMBERS:,} members in a zip: a tar may hold any number"
        )


# ---- tar


def _tar_members(
    path: Path, left: Counter[str], at: Callable[[int], None]
) -> Iterator[FileItem | FaultItem]:
    with _Metered(path) as stream, tarfile.open(fileobj=stream, mode="r|") as archive:  # type: ignore[arg-type]
        for info in archive:
            stream.next_member()
            at(stream.place)
            archive.members.clear()  # type: ignore[attr-defined] - else it keeps every header
            if info.isfile() and _is_dossier(info.name):
                member = archive.extractfile(info)
                assert member is not None
                yield FileItem(f"{path}/{info.name}", member.read(MAX_BYTES + 1))
            elif info.isfile():
                _count(info.name, left)


class _Metered(io.RawIOBase):
    """The unpacked bytes of a tar, as a stream that knows the limits."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._raw = open(path, "rb")  # noqa: SIM115 - closed with us
        self._unpacked = _unpacking(path, self._raw)
        self._given = 0
        self._member = 0

    @property
    def place(self) -> int:
        """How many bytes of the packed file have been read."""
        return self._raw.tell()

    def next_member(self) -> None:
        """A new member begins: only what follows counts as its bytes."""
        self._member = self._given

    def read(self, size: int = -1) -> bytes:
        data = self._unpacked.read(size)
        self._given += len(data)
        if self._given - self._member > MAX_MEMBER + 2**20:
            raise InputUnreadable(
                f"{self._path}: a member of more than {MAX_MEMBER // 2**20} MB; dossiers and"
                " their photos are smaller"
            )
        _check_size(self._path, self._given, self._raw.tell())
        return data

    def readable(self) -> bool:
        return True

    def close(self) -> None:
        self._raw.close()
        super().close()


def _unpacking(path: Path, raw: IO[bytes]) -> Any:
    """The stream unpacked as its first bytes ask, whatever its name says."""
    head = raw.read(6)
    raw.seek(0)
    if head.startswith(b"\x1f\x8b"):
        return gzip.GzipFile(fileobj=raw)
    if head.startswith(b"\xfd7zXZ\0"):
        return lzma.LZMAFile(raw)
    if head.startswith(b"BZh"):
        return bz2.BZ2File(raw)
    return raw


def _check_size(path: Path, unpacked: int, packed: int) -> None:
    if unpacked > MAX_UNPACKED:
        raise InputUnreadable(f"{path}: more than {MAX_UNPACKED // 2**30} GB when unpacked")
    if unpacked > RATIO_FROM and unpacked > packed * MAX_RATIO:
        raise InputUnreadable(
            f"{path}: unpacks to more than {MAX_RATIO} times its size; no dossiers do"
        )
