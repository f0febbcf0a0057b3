"""An archive from outside, believed in nothing until it has been looked at.

Nothing is ever unpacked by the name that the archive gives: members are read through, counted,
and compared with the manifest; what is not in it, or not as it says, refuses the whole.
"""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, cast

from .exporting_form import EVENTS, FORMAT_NAME, FORMAT_NUMBER, MANIFEST, PHOTO, TABLES, Member
from .importing_errors import ImportRefused

MAX_MEMBERS = 500_000
MAX_MANIFEST = 256 * 2**20  # bytes
MAX_TABLE = 16 * 2**30
MAX_PHOTO = 64 * 2**20
MAX_RATIO = 200  # bytes out for a byte in; events packed give some 10
RATIO_FROM = 64 * 2**20  # below this many bytes out any ratio is harmless
MAX_LINE = 8 * 2**20

_BLOCK = 2**20
_LONGEST_LIST = 128 * 2**20  # bytes of the list of contents of a zip
_BROKEN = (
    zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError,
    ValueError,
)  # fmt: skip

Row = Mapping[str, Any]


class Archive:
    """An opened export.  ``whole``: of a whole database; ``missing``: photos lost before."""

    def __init__(self, path: Path) -> None:
        """Open and check its list of contents and its manifest; raises :class:`ImportRefused`."""
        _check_list(path)
        # ours to close: a member that was left half read would hold the archive open
        self._file = open(path, "rb")  # noqa: SIM115 - closed with us
        try:
            self._zip = zipfile.ZipFile(self._file)
        except _BROKEN as error:
            self._file.close()
            raise ImportRefused(f"not an export that can be read ({_said(error)})") from None
        try:
            self._infos = _checked_infos(self._zip.infolist())
            manifest = self._manifest()
        except BaseException:
            self.close()
            raise
        self.whole: bool = manifest["whole"]
        self.missing: frozenset[str] = frozenset(manifest["missing_photos"])
        self.members: dict[str, Member] = {m.name: m for m in manifest["members"]}
        self.photos = tuple(name for name in self.members if PHOTO.fullmatch(name))

    def close(self) -> None:
        """Close the file."""
        self._zip.close()
        self._file.close()

    def check(self, step: Callable[[int, int], None] = lambda done, of: None) -> None:
        """Read every member to its end and compare it with the manifest."""
        for done, name in enumerate(self.members, start=1):
            for _ in self.blocks(name):
                pass
            step(done, len(self.members))

    def blocks(self, name: str) -> Iterator[bytes]:
        """The bytes of a member; raises :class:`ImportRefused` where they are not as the manifest
        says, at the latest after the last block."""
        told = self.members[name]
        hashed, size = hashlib.sha256(), 0
        packed = max(self._infos[name].compress_size, 1)
        try:
            with self._zip.open(self._infos[name]) as stream:
                while block := stream.read(_BLOCK):
                    size += len(block)
                    if size > told.bytes:
                        raise ImportRefused(f"{name} is longer than its manifest says")
                    if size > RATIO_FROM and size > packed * MAX_RATIO:
                        raise ImportRefused(
                            f"{name} unpacks to more than {MAX_RATIO} times its size"
                        )
                    hashed.update(block)
                    yield block
        except ImportRefused:
            raise
        except _BROKEN as error:
            raise ImportRefused(f"{name} can't be unpacked ({_said(error)})") from None
        if size != told.bytes or hashed.hexdigest() != told.sha256:
            raise ImportRefused(f"{name} is not what its manifest says; the file has been altered")

    def rows(self, name: str) -> Iterator[tuple[int, Row]]:
        """The rows of a table with their line numbers."""
        if name not in self.members:
            return
        for line, text in enumerate(self._lines(name), start=1):
            try:
                row: object = json.loads(text, parse_constant=_no_constant)
            except (ValueError, RecursionError):
                raise ImportRefused(f"{name}, line {line}: no JSON that can be read") from None
            if not isinstance(row, dict):
                raise ImportRefused(f"{name}, line {line}: not a table of keys")
            yield line, cast("Row", row)

    def _lines(self, name: str) -> Iterator[bytes]:
        held = b""
        for block in self.blocks(name):
            *lines, held = (held + block).split(b"\n")
            if len(held) > MAX_LINE:
                raise ImportRefused(f"{name}: a line of more than {MAX_LINE // 2**20} MB")
            yield from lines
        if held:
            raise ImportRefused(f"{name}: ends in the middle of a line")

    def _manifest(self) -> dict[str, Any]:
        info = self._infos.get(MANIFEST)
        if info is None:
            raise ImportRefused(
                f"there is no {MANIFEST} in it; accepted: a file that Export has written"
            )
        try:
            with self._zip.open(info) as stream:
                data = stream.read(MAX_MANIFEST + 1)
            if len(data) > MAX_MANIFEST:
                raise ImportRefused(f"its {MANIFEST} is too long")
            read: object = json.loads(data)
        except ImportRefused:
            raise
        except (*_BROKEN, RecursionError) as error:
            raise ImportRefused(f"its {MANIFEST} can't be read ({_said(error)})") from None
        return _checked_manifest(read, self._infos)


def _check_list(path: Path) -> None:
    """Refuse a list of contents too long to hold, before it is read."""
    with open(path, "rb") as stream:
        size = stream.seek(0, 2)
        stream.seek(max(size - 65_557, 0))  # the end record and its longest comment
        tail = stream.read()
    at = tail.rfind(b"PK\5\6")
    if at < 0 or len(tail) < at + 22:
        raise ImportRefused("no zip archive, or only the beginning of one; accepted: an export")
    listed = int.from_bytes(tail[at + 12 : at + 16], "little")
    large = tail.rfind(b"PK\6\6", 0, at)
    if large >= 0 and len(tail) >= large + 48:
        listed = int.from_bytes(tail[large + 40 : large + 48], "little")
    if listed > _LONGEST_LIST:
        raise ImportRefused(f"its list of contents has {listed / 1e6:,.0f} MB; no export's has")


def _checked_infos(infos: list[zipfile.ZipInfo]) -> dict[str, zipfile.ZipInfo]:
    if len(infos) > MAX_MEMBERS:
        raise ImportRefused(f"{len(infos):,} members; accepted: up to {MAX_MEMBERS:,}")
    out: dict[str, zipfile.ZipInfo] = {}
    for info in infos:
        name = info.filename
        if name in out:
            raise ImportRefused(f"two members are called {name!r:.120}")
        if name not in (MANIFEST, *TABLES) and not PHOTO.fullmatch(name):
            raise ImportRefused(
                f"a member is called {name!r:.120}; accepted: {MANIFEST}, {', '.join(TABLES)} and"
                " photos under their hash"
            )
        if info.flag_bits & 1:
            raise ImportRefused(f"{name} is encrypted; accepted: an export as it was written")
        most = MAX_PHOTO if PHOTO.fullmatch(name) else MAX_TABLE
        if info.file_size > most:
            raise ImportRefused(f"{name} would have {info.file_size / 2**20:,.0f} MB")
        out[name] = info
    return out


def _checked_manifest(read: object, infos: Mapping[str, zipfile.ZipInfo]) -> dict[str, Any]:
    if not isinstance(read, dict):
        raise ImportRefused(f"its {MANIFEST} is no table of keys")
    manifest = cast("dict[str, Any]", read)
    _check_format(manifest.get("format"))
    missing = manifest.get("missing_photos", [])
    listed = manifest.get("members")
    if not isinstance(manifest.get("whole"), bool) or not isinstance(listed, list):
        raise ImportRefused(f"its {MANIFEST} lacks 'whole' or 'members'")
    if not isinstance(missing, list) or not all(_is_hash(m) for m in cast("list[object]", missing)):
        raise ImportRefused(f"its {MANIFEST} names missing photos that are no hashes")
    members: dict[str, Member] = {}
    for row in cast("list[Any]", listed):
        try:
            member = Member(row["name"], row["bytes"], row["sha256"])
            good = (
                isinstance(member.name, str) and isinstance(member.bytes, int) and member.bytes >= 0
                and _is_hash(member.sha256)
            )  # fmt: skip
        except (KeyError, TypeError):
            good = False
        if not good or member.name in members:
            raise ImportRefused(
                f"its {MANIFEST} lists a member without name, size and hash, or twice"
            )
        found = PHOTO.fullmatch(member.name)
        if found and found.group(2) != member.sha256:
            raise ImportRefused(f"{member.name} is not called by its hash")
        members[member.name] = member
    if set(members) != set(infos) - {MANIFEST}:
        odd = min(set(members) ^ (set(infos) - {MANIFEST}))
        raise ImportRefused(
            f"{odd!r:.120} stands in the archive or in its manifest, but not in both"
        )
    if EVENTS not in members:
        raise ImportRefused(f"there is no {EVENTS} in it; accepted: a file that Export has written")
    return {"whole": manifest["whole"], "missing_photos": missing, "members": members.values()}


def _check_format(found: object) -> None:
    match = re.fullmatch(rf"{FORMAT_NAME}/(\d{{1,6}})", found) if isinstance(found, str) else None
    if match is None:
        raise ImportRefused(f"its format is {found!r:.80}; accepted: {FORMAT_NAME}/{FORMAT_NUMBER}")
    if int(match[1]) > FORMAT_NUMBER:
        raise ImportRefused(f"it was written by a newer Endbell ({found}); accepted: up to"
                            f" {FORMAT_NAME}/{FORMAT_NUMBER}")  # fmt: skip


def _is_hash(value: object) -> bool:
    return isinstance(value, str) and re.fullmatch(r"[0-9a-f]{64}", value) is not None


def _no_constant(name: str) -> float:
    raise ValueError(name)


def _said(error: BaseException) -> str:
    return " ".join(str(error).split())[:120] or type(error).__name__
