"""Dossiers out of a table of marks: shown how it is understood, recorded as typed, taken back.

The table is read as ``endbell batch`` reads it.  A row that can't be weighed is recorded all the
same, as a bad row of a dossier file is kept, and listed; one that belongs to no dossier is listed.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, cast

from ..batch.columns import Understood, understand
from ..batch.errors import BatchError
from ..batch.from_rows import top_of
from ..batch.grouping import dossiers_of, look_through, sample_of
from ..batch.items import BadRow, BadRowsItem, RowsItem
from ..dossier import DossierError, read_marks
from ..dossier.guess import guess_mark
from ..dossier.load import dossier_of
from ..dossier.parts import known_part
from ..marks import read_mark
from ..reference import PackError, Reference
from ..store import By, Change, append, new_id, state_of
from ..store.exporting import dossier_called
from .desk import Desk

LISTED = 200
"""Bad rows shown on the page; all are in the list to download."""

UNDONE_TAG = "import undone"
_NUMBER = 80


@dataclass
class Looked:
    """What a table holds, or what came of importing it."""

    understood: Understood
    dossiers: int = 0
    marks: int = 0
    bad: list[BadRow] = field(default_factory=list[BadRow])
    made: dict[str, int] = field(default_factory=dict[str, int])
    again: int = 0


def understood(desk: Desk, path: Path, given: Mapping[str, str]) -> Understood:
    """How the columns are understood; ``given``: number of a column -> field.

    Raises ``ValueError`` (one sentence) for a file that is no table.
    """
    reference = desk.packs.reference(())
    try:
        return understand(sample_of(path), lambda t: known_part(t, reference) is not None, given)
    except BatchError as error:
        raise ValueError(str(error).replace(str(path), "the file")) from None


def look(desk: Desk, path: Path, given: Mapping[str, str], most: int = 20_000) -> Looked:
    """Read a table (the first ``most`` dossiers) as it would be imported; nothing is recorded."""
    out = Looked(understood(desk, path, given))
    if out.understood.missing:
        return out
    for _, _, item, top, bad in _items(desk, path, out.understood):
        out.bad += bad
        if item is not None:
            out.dossiers += 1
            out.marks += len(cast("list[Any]", top.get("mark", [])))
            if dossier_called(desk.db, item.dossier):
                out.bad.append(_taken(item))
        if out.dossiers >= most:
            break
    return out


def record(
    desk: Desk,
    path: Path,
    name: str,
    sha256: str,
    given: Mapping[str, str],
    attempt: int,
    by: By,
    step: Any = lambda what, done, of: None,
) -> Looked:
    """Record every dossier of the table.  The same file again records nothing again."""
    out = Looked(understood(desk, path, given))
    if out.understood.missing:
        raise ValueError(
            f"no column is {', '.join(out.understood.missing)}; accepted: a table in which each is"
        )
    sign = f"{sha256[:16]}-{attempt}"
    for done, total, item, top, bad in _items(desk, path, out.understood):
        step("dossiers", done, total)
        out.bad += bad
        if item is None:
            continue
        there = dossier_called(desk.db, item.dossier)
        if there is not None:
            if str(state_of(desk.db, there).intake.get("imported", "")).endswith(sign):
                out.again += 1
                out.made[there] = state_of(desk.db, there).version
            else:
                out.bad.append(_taken(item))
            continue
        said = f"{name}, line {item.rows[0][0]}; {sign}"
        key = "table-" + hashlib.sha256(f"{sign} {item.dossier}".encode()).hexdigest()[:50]
        recorded = append(desk.db, new_id(), changes_of(item.dossier, top, said), by=by, key=key)
        assert recorded.state is not None
        out.made[recorded.state.id] = recorded.state.version
        out.dossiers += 1
        out.marks += len(recorded.state.marks)
    return out


def undo(desk: Desk, made: Mapping[str, int], import_id: str, by: By, step: Any) -> tuple[int, int]:
    """Take back what an import made; dossiers that somebody worked in since are left.

    Nothing is deleted: marks are withdrawn, the dossier is closed and its number given free.
    Answers how many were taken back and how many left.
    """
    back = left = 0
    for done, (dossier, version) in enumerate(made.items(), start=1):
        step("taking back", done, len(made))
        state = state_of(desk.db, dossier)
        if state.version != version:
            left += UNDONE_TAG not in state.tags
            continue
        number = f"{state.number[: _NUMBER - 16]} undone {dossier[-8:]}"
        reason = {"reason": "import undone"}
        changes = [Change("mark-withdrawn", {"mark": m.id, **reason}) for m in state.standing]
        changes += [
            Change("head-set", {"keys": {"number": number}}),
            Change("tags-set", {"tags": [*state.tags, UNDONE_TAG]}),
            Change("closed"),
        ]
        append(desk.db, dossier, changes, by=by, key=f"undo-{import_id}-{dossier}")
        back += 1
    return back, left


def changes_of(number: str, top: Mapping[str, Any], said: str) -> list[Change]:
    """The events of a new dossier; ``said``: what it was imported from."""
    opened: dict[str, Any] = {"number": number[:_NUMBER], "intake": {"imported": said}}
    opened |= {key: top[key] for key in ("purpose", "packs", "claim") if key in top}
    out = [Change("opened", opened)]
    if "as_of" in top:
        out.append(Change("head-set", {"keys": {"as_of": top["as_of"]}}))
    if "known" in top:
        out.append(Change("known-set", {"known": top["known"]}))
    out += [Change("part-set", {"row": row}) for row in top.get("part", [])]
    out += [Change("mark-set", {"mark": new_id(), "row": row}) for row in top.get("mark", [])]
    return out


def bad_rows_csv(bad: Sequence[BadRow]) -> bytes:
    """The bad rows as a table, safe to open in a spreadsheet."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(("line", "dossier", "found", "accepted"))
    for row in bad:
        writer.writerow([_cell(v) for v in (row.line, row.dossier, row.found, row.accepted)])
    return out.getvalue().encode("utf-8-sig")


def _cell(value: object) -> str:
    text = "" if value is None else str(value)
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def _items(
    desk: Desk, path: Path, columns: Understood
) -> Iterator[tuple[int, int, RowsItem | None, dict[str, Any], list[BadRow]]]:
    """Every dossier with its place among all, its tables, and the rows of it that are bad."""
    with TemporaryDirectory(dir=path.parent, prefix=".sorting-") as scratch:
        table = look_through(path, columns)
        done = 0
        for item in dossiers_of(table, Path(scratch)):
            if isinstance(item, BadRowsItem):
                yield done, table.dossiers, None, {}, list(item.rows)
            elif isinstance(item, RowsItem):
                done += 1
                top, bad = _checked(desk, item)
                yield done, table.dossiers, item, top, bad


def _checked(desk: Desk, item: RowsItem) -> tuple[dict[str, Any], list[BadRow]]:
    """The tables of a dossier as typed, and what in them can't be weighed."""

    def guess(part: str, text: str, packs: Sequence[str]) -> Mapping[str, object]:
        reference = _reference(desk, packs)
        mark = guess_mark(1, part, text, reference, lambda s: read_mark(s, reference.tables)).mark
        keys: dict[str, object] = {"kind": mark.kind}
        for key in ("feature", "value", "quantity", "unit", "date"):
            if getattr(mark, key) is not None:
                keys[key] = getattr(mark, key)
        return keys | ({"result": mark.result} if mark.result != "seen" else {})

    top, lines, bad = top_of(item, guess)
    top = cast("dict[str, Any]", top)
    try:
        read = dossier_of(top, lines, desk.packs.reference, today=desk.today(), file=item.file)
    except (DossierError, PackError) as error:
        line = item.rows[0][0]
        found = str(error).replace(item.file, "the table")
        return top, [*bad, BadRow(item.file, item.dossier, "row", None, line, found, "see there")]
    misread = read_marks(read, _reference(desk, read.packs)).problems
    for p in (*read.problems, *misread):
        row = BadRow(p.file, item.dossier, p.header, p.table, p.line, p.found, p.accepted)
        bad.append(row)
    return top, bad


def _reference(desk: Desk, packs: Sequence[str]) -> Reference:
    try:
        return desk.packs.reference(tuple(packs))
    except PackError:
        return desk.packs.reference(())


def _taken(item: RowsItem) -> BadRow:
    found = f"a dossier with the number {item.dossier!r} is here already; nothing of it is imported"
    line = item.rows[0][0]
    return BadRow(item.file, item.dossier, "row", None, line, found, "numbers that are free")
