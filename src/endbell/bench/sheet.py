"""A sheet file read (``endbell-sheet/1``): every good row used, every bad row reported and kept."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import cast

from ..dossier.limits import visible
from ..dossier.places import Headers, header_lines
from ..dossier.rows import Desk, Place, Row, rows_of
from ..dossier.text import check_format, parse_toml, read_text
from ..dossier.types import Problem, SetAside
from ..dossier.values import Fault, nearest_words, say
from .kinds import line_kinds
from .readings import Reading, Recording
from .sheet_keys import FORMAT_NAME, FORMAT_NUMBER
from .sheet_readings import ambient_of, reading_of, recording_of
from .sheet_rows import Table, read_sheet_row
from .sheet_types import ROOM, FaultFound, Override, Replaced, Sheet

_CIRCUIT = re.compile(r"[a-z0-9-]{1,80}/[a-z0-9-]{1,80}")


def load_sheet(path: Path | str) -> Sheet:
    """Read the sheet at ``path``.

    A row that can't be used is reported in ``problems`` and kept in ``set_aside``; the others are
    used.  Raises :class:`endbell.dossier.DossierError` (one sentence) where the file can't be read,
    is no TOML, or is another kind of file.
    """
    return parse_sheet(read_text(path, "a bench sheet"), str(path))


def parse_sheet(text: str, file: str = "") -> Sheet:
    """Read the text of a sheet; see :func:`load_sheet`."""
    return sheet_of(parse_toml(text, file), header_lines(text), file)


def sheet_of(top: Table, headers: Headers | None = None, file: str = "") -> Sheet:
    """The sheet in tables that are read already, from TOML or from anything else."""
    check_format(file, top, FORMAT_NAME, FORMAT_NUMBER)
    headers = headers or {}
    desk, place = Desk(file), Place("sheet")
    head = read_sheet_row(desk, place, top, "") or Row(place, {})
    by, day = head.text("by"), head.day("on")
    set_aside: list[SetAside] = []
    readings: list[Reading] = []
    impossible: list[tuple[Reading, str]] = []
    overrides: list[Override] = []
    recordings: list[Recording] = []
    replaced: list[Replaced] = []
    faults: list[FaultFound] = []

    for name, into in (
        ("override", overrides),
        ("recording", recordings),
        ("replaced", replaced),
        ("fault", faults),
        ("reading", readings),
    ):
        for at, table in rows_of(desk, top, headers, name, "on one sheet"):
            row = read_sheet_row(desk, at, table, name)
            made: object | None = None
            if row is None:
                pass
            elif name == "reading":
                found = reading_of(desk, row, line_kinds(), by, day.isoformat() if day else "")
                if found is not None and found[1]:
                    impossible.append(found)
                    wanted = "a reading that can be; this one is kept and shown, not used"
                    desk.problem(at, Fault(found[1].removesuffix("."), wanted))
                    continue
                made = found[0] if found is not None else None
            elif name == "recording":
                made = recording_of(desk, row, table)
            elif name == "override":
                made = _override(desk, row)
            elif name == "replaced":
                made = _replaced(row)
            else:
                made = _fault(row)
            if made is None:
                set_aside.append(SetAside(at.header, at.table or 0, at.line or None, table))
            else:
                cast("list[object]", into).append(made)

    circuit, own = _circuit(desk, top)
    return Sheet(
        id=head.text("id").strip() or Path(file).stem or "unnamed",
        file=file,
        dossier=head.text("dossier").strip(),
        circuit=circuit,
        own_circuit=own,
        practice=head.text("practice") or "iec",
        on=day,
        by=by,
        ambient=ambient_of(desk, place, head.text_or_number("ambient"), ROOM),
        note=head.text("note"),
        readings=tuple(readings),
        impossible=tuple(impossible),
        overrides=tuple(overrides),
        recordings=tuple(recordings),
        replaced=tuple(replaced),
        faults=tuple(faults),
        problems=_in_order(desk.problems),
        remarks=_in_order(desk.remarks),
        set_aside=tuple(set_aside),
    )


def _in_order(said: list[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted(said, key=lambda problem: problem.line or 0))


def _override(desk: Desk, row: Row) -> Override | None:
    line, stage = row.text("line").strip(), row.text("stage")
    by, reason = row.text("by").strip(), row.text("reason").strip()
    fault: Fault | None = None
    if bool(line) == bool(stage):
        found = "both a line and a stage" if line else "neither a line nor a stage"
        fault = Fault(found, "one of them: an override lets pass what it names")
    elif line and line not in line_kinds():
        near = nearest_words(line, line_kinds())
        fault = Fault(f'no line "{visible(line)}"', "the id of a line", near)
    elif not any(c.isalpha() for c in by):
        fault = Fault(f"by is {say(by)}", "the name of who takes it upon himself")
    elif not any(c.isalpha() for c in reason):
        fault = Fault(f"reason is {say(reason)}", "the reason, in words")
    if fault is not None:
        desk.problem(row.place, fault)
        return None
    at = row.text("at").strip()
    return Override(row.place.table or 0, by, reason, line, at, stage, row.day("on"))


def _replaced(row: Row) -> Replaced:
    words = {
        key: row.text(key).strip()
        for key in ("part", "by_what", "why", "by", "done", "bag", "first", "after", "note")
    }
    return Replaced(n=row.place.table or 0, kept=row.values.get("kept") is True, **words)


def _fault(row: Row) -> FaultFound:
    words = {key: row.text(key).strip() for key in ("fault", "at", "part", "by", "note")}
    return FaultFound(n=row.place.table or 0, on=row.day("on"), **words)


def _circuit(desk: Desk, top: Table) -> tuple[str, Mapping[str, object] | None]:
    raw = top.get("circuit")
    if isinstance(raw, dict):
        return "", cast("Mapping[str, object]", raw)
    if isinstance(raw, str) and _CIRCUIT.fullmatch(raw.strip()):
        return raw.strip(), None
    found = "no circuit" if raw is None else f"circuit is {say(raw)}"
    accepted = 'pack and model (circuit = "brackwater/lantern-20"), or a table [circuit] of its own'
    desk.problem(Place("sheet"), Fault(found, accepted))
    return "", None
