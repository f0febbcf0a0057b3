"""Readings of a meter pasted as CSV: looked at first, bad rows named and kept in the box."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from ...bench.kinds import line_kinds
from ...bench.result import SheetResult
from ...bench.result_json import told
from ...store import Change, DossierState, new_id
from ..bench_desk import after, bench_page, noted, now_of, parts_of, troubles
from ..bench_now import BenchNow, Parts, with_readings
from ..bench_typed import Pasted, pasted
from ..claims import text_of
from ..desk import Desk, desk_of
from ..refusal import Refusal
from ..rights import Technician
from .live import state_now

router = APIRouter(include_in_schema=False)

LONGEST = 60_000
"""Characters of one paste."""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the preview: as pasted, as read, as judged, or why it can't be used."""

    n: int
    text: str
    name: str = ""
    value: str = ""
    judgement: str = ""
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Imported:
    """A paste as it was looked at. ``left``: the rows that can't be used, for the box."""

    text: str
    rows: tuple[Row, ...]
    good: int
    left: str
    kept: int | None = None


@router.post("/dossiers/{dossier}/bench/import")
async def paste(request: Request, person: Technician, dossier: str) -> Response:
    """Look at a paste (nothing is recorded), or record its good rows (``keep``)."""
    form = await request.form()
    desk = desk_of(request)
    text = text_of(form, "csv")
    if len(text) > LONGEST:
        raise Refusal(422, f"{len(text):,} characters", f"at most {LONGEST:,} at a time")
    state = await state_now(desk, dossier)
    parts = await parts_of(desk, state)
    found, rows = await asyncio.to_thread(looked_at, desk, state, parts, text)
    if text_of(form, "keep") != "yes":
        if request.headers.get("hx-request") != "true":
            return await bench_page(request, desk, state, whole=True, imported=found)
        return await bench_page(request, desk, state, imported=found)
    if not rows:
        raise Refusal(422, "no row that can be used", "line, at, value, unit; one reading a line")
    said = {"by": person.name, "on": desk.today().isoformat()}
    changes = [Change("reading-set", {"reading": new_id(), "row": {**r, **said}}) for r in rows]
    state = await asyncio.to_thread(noted, desk, person, dossier, changes, text_of(form, "key"))
    if not {"hx-request", "x-outbox-key"} & set(request.headers):
        return RedirectResponse(f"/dossiers/{dossier}/bench", 303)
    left = Imported(found.left, tuple(r for r in found.rows if r.trouble), 0, found.left, len(rows))
    return await after(request, desk, state, imported=left)


def looked_at(
    desk: Desk, state: DossierState, parts: Parts, text: str
) -> tuple[Imported, Sequence[Mapping[str, Any]]]:
    """A paste as it would be read, and the rows that can be recorded."""
    now = now_of(desk, state, parts)
    try:
        lines = pasted(text)
    except ValueError as error:
        raise Refusal(422, *str(error).split("; ", 1)) from error
    good = [
        (line, {**line.row, **({"after": True} if now.repaired else {})})
        for line in lines
        if line.row is not None
    ]
    wrong = {
        n: f"{found}; accepted: {accepted}" if accepted else found
        for n, found, accepted, _ in troubles(desk, now, [row for _, row in good], parts)
    }
    kept = [row for n, (_, row) in enumerate(good, start=1) if n not in wrong]
    result = with_readings(state, kept, desk.packs.now().search, parts)
    trouble = {line.n: wrong[n] for n, (line, _) in enumerate(good, start=1) if n in wrong}
    rows = tuple(_row(now, result, line, trouble.get(line.n, "")) for line in lines)
    left = "\n".join(line.text for line, row in zip(lines, rows, strict=True) if row.trouble)
    return Imported(text, rows, len(kept), left), kept


def _row(now: BenchNow, result: SheetResult, line: Pasted, trouble: str) -> Row:
    if line.row is None or trouble:
        return Row(line.n, line.text, trouble=trouble or line.trouble)
    wanted, at = str(line.row["line"]), str(line.row.get("at", ""))
    kind = line_kinds()[wanted]
    name = f"{kind.title} at {at}" if at else kind.title
    found = result.line(wanted, at)
    return Row(
        line.n,
        line.text,
        name,
        told(found.value, found.unit) if found else str(line.row.get("value", "")),
        found.judgement.value if found else "kept",
    )
