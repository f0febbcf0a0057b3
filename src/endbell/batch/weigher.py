"""The work itself: dossiers in, rows out.  The same in a worker, here, or far away."""

from __future__ import annotations

import gc
import json
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from pathlib import PurePath
from typing import Any

from ..chronology import AssumptionError, Brief, NothingPossible, Workspace, brief
from ..dossier import Dossier, DossierError, parse_dossier
from ..dossier.guess import guess_mark
from ..dossier.load import dossier_of
from ..dossier.text import decode
from ..marks import read_mark
from ..reference import PackError
from .code import made_by
from .from_rows import top_of
from .items import BadRow, BadRowsItem, FaultItem, FileItem, Item, RowsItem
from .packs import Packs, Settings, Stamps
from .pool import Mending
from .verdict_row import Row, error_row, verdict_row

WORKSPACE_BYTES = 128 * 2**20


@dataclass(frozen=True, slots=True)
class Weighed:
    """What became of a chunk.  ``block``: its rows and bad rows, packed, as they are kept.

    ``asked``: the packs in force for every list of packs that was asked for.  ``lost``: dossiers
    that ended their worker.
    """

    block: bytes
    dossiers: int
    errors: int
    remarked: int
    bad_rows: int
    asked: tuple[tuple[tuple[str, ...], Stamps], ...]
    lost: int = 0
    version: str = field(default_factory=made_by)


class Weigher:
    """Weighs chunks of dossiers; one lives in every worker, with its packs and its Workspace."""

    def __init__(self, settings: Settings) -> None:
        self._packs = Packs(settings)
        self._assume = settings.assumed
        self._day = date.fromisoformat(settings.day)
        self._workspace = Workspace(WORKSPACE_BYTES)
        self._guess = lru_cache(20_000)(self._guess_once)

    def __call__(self, chunk: Sequence[Item]) -> Weighed:
        """Weigh a chunk; nothing that is wrong with a dossier is raised."""
        self._packs.asked.clear()
        rows: list[Row] = []
        bad: list[BadRow] = []
        # Nothing that a dossier leaves behind lies in circles for long: one look at the end.
        collecting = gc.isenabled()
        gc.disable()
        try:
            for item in chunk:
                self._weigh(item, rows, bad)
        finally:
            if collecting:
                gc.enable()
                gc.collect(1)
        return packed(rows, bad, tuple(sorted(self._packs.asked.items())))

    def _weigh(self, item: Item, rows: list[Row], bad: list[BadRow]) -> None:
        if isinstance(item, BadRowsItem):
            bad.extend(item.rows)
            return
        name = _name(item)
        if isinstance(item, FaultItem):
            rows.append(error_row(name, item.file, item.sentence))
            return
        try:
            dossier, contradictions = self._open(item)
            found = self._brief(dossier)
        except (DossierError, PackError, NothingPossible, AssumptionError) as error:
            rows.append(error_row(name, item.file, str(error)))
        except KeyError as error:
            sentence = f"no pack in force has the assumption {error}"
            rows.append(error_row(name, item.file, sentence))
        except Exception as error:
            rows.append(error_row(name, item.file, fault_sentence(error)))
        else:
            rows.append(verdict_row(found))
            bad.extend(contradictions)
            bad.extend(
                BadRow(p.file, dossier.id, p.header, p.table, p.line, p.found, p.accepted)
                for p in found.not_weighed
            )

    def _open(self, item: FileItem | RowsItem) -> tuple[Dossier, list[BadRow]]:
        reference = self._packs.reference
        if isinstance(item, FileItem):
            text = decode(item.data, item.file)
            return parse_dossier(text, reference, today=self._day, file=item.file), []
        top, lines, bad = top_of(item, self._guess_kind)
        return dossier_of(top, lines, reference, today=self._day, file=item.file), bad

    def _brief(self, dossier: Dossier) -> Brief:
        reference = self._packs.reference(dossier.packs)
        return brief(dossier, reference, self._assume, workspace=self._workspace)

    def _guess_kind(self, part: str, text: str, packs: Sequence[str]) -> Mapping[str, object]:
        return self._guess(part, text, tuple(packs))

    def _guess_once(self, part: str, text: str, packs: tuple[str, ...]) -> Mapping[str, object]:
        """The keys of the mark that a text on a part most likely is, as ``--mark`` guesses."""
        try:
            reference = self._packs.reference(packs)
        except PackError:
            reference = self._packs.reference(())
        mark = guess_mark(1, part, text, reference, lambda s: read_mark(s, reference.tables)).mark
        keys: dict[str, Any] = {"kind": mark.kind}
        for key in ("feature", "value", "quantity", "unit", "date"):
            if getattr(mark, key) is not None:
                keys[key] = getattr(mark, key)
        if mark.result != "seen":
            keys["result"] = mark.result
        return keys


def _name(item: Item) -> str:
    """What a dossier is called before it is read: its id in the table, else its file's name."""
    if isinstance(item, RowsItem):
        return item.dossier
    return PurePath(item.file).stem


def fault_sentence(error: BaseException) -> str:
    """The sentence for a fault of Endbell itself."""
    said = " ".join(str(error).split())
    return f"a fault in Endbell itself ({type(error).__name__}: {said})"


# ---- blocks: rows as they are kept


def packed(
    rows: Sequence[Row],
    bad: Sequence[BadRow],
    asked: tuple[tuple[tuple[str, ...], Stamps], ...] = (),
    lost: int = 0,
) -> Weighed:
    """Rows and bad rows as a block."""
    listed = [
        [b.file, b.dossier, b.header, b.table, b.line, b.found, b.accepted] for b in bad
    ]  # in the order of BAD_COLUMNS
    text = json.dumps([rows, listed], ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    error, not_weighed = -1, -4
    return Weighed(
        zlib.compress(text.encode("ascii"), 1),
        len(rows),
        sum(row[error] is not None for row in rows),
        sum(bool(row[not_weighed]) for row in rows),
        len(bad),
        asked,
        lost,
    )


def unpacked(block: bytes) -> tuple[list[list[Any]], list[list[Any]]]:
    """The rows and the bad rows of a block."""
    rows, bad = json.loads(zlib.decompress(block))
    return rows, bad


def join_weighed(pieces: Sequence[Weighed]) -> Weighed:
    """The pieces of a chunk that had to be broken, as if it had not been."""
    rows: list[Any] = []
    bad: list[BadRow] = []
    asked: dict[tuple[str, ...], Stamps] = {}
    for piece in pieces:
        more, listed = unpacked(piece.block)
        rows += [tuple(row) for row in more]
        bad += [BadRow(*row) for row in listed]
        asked |= dict(piece.asked)
    return packed(rows, bad, tuple(sorted(asked.items())), sum(piece.lost for piece in pieces))


def lost(item: Item, reason: str) -> Weighed:
    """A dossier that ended every process that weighed it."""
    sentence = f"weighing it ends the process that does it ({reason}); it was tried twice alone"
    if isinstance(item, BadRowsItem):
        return packed((), item.rows)
    return packed((error_row(_name(item), item.file, sentence),), (), lost=1)


MENDING = Mending(join_weighed, lost)
