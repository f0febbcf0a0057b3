"""The bench of an amp: one reading at a time, in the order of work, power after safety."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...bench.kinds import line_kinds
from ...bench.limits import PRACTICES
from ...store import Change, new_id
from ..bench_desk import (
    after,
    bench_page,
    noted,
    now_of,
    parts_of,
    refuse_unless_open,
    troubles,
)
from ..bench_now import CAUTION, circuit_names, with_readings
from ..bench_typed import reading_row
from ..bench_view import letting, would
from ..claims import text_of
from ..desk import Desk, desk_of
from ..pages import render
from ..refusal import Refusal
from ..rights import Reader, Technician
from ..sessions import Person
from . import bench_import, bench_papers, bench_repairs
from .live import state_now

router = APIRouter(include_in_schema=False)


@router.get("/dossiers/{dossier}/bench")
async def page(
    request: Request,
    person: Reader,
    dossier: str,
    line: str = "",
    at: str = "",
    piece: bool = False,
) -> Response:
    """The bench; ``line`` and ``at``: the step to show; ``piece``: only what changes."""
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    return await bench_page(request, desk, state, whole=not piece, line=line, at=at)


@router.post("/dossiers/{dossier}/bench/readings")
async def enter(request: Request, person: Technician, dossier: str) -> Response:
    """A reading; answers with the next step."""
    form = await request.form()
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    parts = await parts_of(desk, state)
    now = await asyncio.to_thread(now_of, desk, state, parts)
    row = typed_row(form, repaired=now.repaired)
    if row.get("result") == "not-possible" and not row.get("note"):
        raise Refusal(422, "a step that can't be made, without a reason", "the reason, as note")
    await asyncio.to_thread(refuse_unless_open, desk, now, [row], parts)
    row |= {"by": person.name, "on": desk.today().isoformat()}
    change = Change(
        "reading-set", {"reading": new_id(), "row": row}, text_of(form, "typed")[:32] or None
    )
    return await _done(request, desk, person, dossier, [change], form, row)


@router.post("/dossiers/{dossier}/bench/readings/{reading}/withdraw")
async def withdraw(request: Request, person: Technician, dossier: str, reading: str) -> Response:
    """A reading that is not to count any more; it stays in the history."""
    form = await request.form()
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    if not any(row.id == reading for row in state.bench.standing("readings")):
        raise Refusal(404, "there is no such reading", "one of those listed")
    reason = text_of(form, "reason")[:1000]
    data = {"reading": reading} | ({"reason": reason} if reason else {})
    return await _done(request, desk, person, dossier, [Change("reading-withdrawn", data)], form)


@router.post("/dossiers/{dossier}/bench/preview")
async def preview(request: Request, person: Technician, dossier: str) -> Response:
    """What is being typed, as it would be read and what it would change; nothing is recorded."""
    form = await request.form()
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    if not text_of(form, "value"):
        return render(request, "bench/would.html", would=None, trouble="")
    parts = await parts_of(desk, state)
    return await asyncio.to_thread(_would, request, desk, state, parts, form)


def _would(request: Request, desk: Desk, state: Any, parts: Any, form: Any) -> Response:
    now = now_of(desk, state, parts)
    row = typed_row(form, repaired=now.repaired)
    wrong = troubles(desk, now, [row], parts)
    if wrong:
        _, found, accepted, _ = wrong[0]
        said = f"{found[:1].upper()}{found[1:].rstrip('.')}. Accepted: {accepted}."
        return render(request, "bench/would.html", would=None, trouble=said)
    result = with_readings(state, [row], desk.packs.now().search, parts)
    found = would(now, result, str(row["line"]), str(row.get("at", "")))
    return render(request, "bench/would.html", would=found, trouble="")


@router.post("/dossiers/{dossier}/bench/cautions")
async def acknowledge(
    request: Request,
    person: Technician,
    dossier: str,
    name: Annotated[str, Form(max_length=200)] = "",
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Somebody has read the caution before the first power and puts a name to it."""
    if not any(c.isalpha() for c in name):
        raise Refusal(422, "a caution read by nobody", "the name of whoever switches on")
    desk = desk_of(request)
    change = Change("caution-acknowledged", {"level": CAUTION, "name": name.strip()})
    return await _done(request, desk, person, dossier, [change], {"key": key})


@router.post("/dossiers/{dossier}/bench/overrides")
async def override(
    request: Request,
    person: Technician,
    dossier: str,
    line: Annotated[str, Form(max_length=120)] = "",
    by: Annotated[str, Form(max_length=200)] = "",
    reason: Annotated[str, Form(max_length=1000)] = "",
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """A line that has not passed is let pass, by name and with a reason.  ``line``: 'id@place'."""
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    parts = await parts_of(desk, state)
    now = await asyncio.to_thread(now_of, desk, state, parts)
    named, _, at = line.partition("@")
    if (named, at) not in letting(now):
        raise Refusal(422, f"nothing waits for {line!r}", "a line that later steps wait for")
    if not any(c.isalpha() for c in by):
        raise Refusal(422, "nobody lets it pass", "the name of who takes it upon himself")
    if not any(c.isalpha() for c in reason):
        raise Refusal(422, "no reason", "the reason, in words")
    row = {"line": named} | ({"at": at} if at else {})
    row |= {"by": by.strip(), "reason": reason.strip(), "on": desk.today().isoformat()}
    change = Change("override-given", {"override": new_id(), "row": row})
    return await _done(request, desk, person, dossier, [change], {"key": key})


@router.post("/dossiers/{dossier}/bench/overrides/{override}/withdraw")
async def withdraw_override(
    request: Request, person: Technician, dossier: str, override: str
) -> Response:
    """What was let pass has to pass again."""
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    if not any(row.id == override for row in state.bench.standing("overrides")):
        raise Refusal(404, "there is no such override", "one of those listed")
    change = Change("override-withdrawn", {"override": override})
    return await _done(request, desk, person, dossier, [change], {})


@router.post("/dossiers/{dossier}/bench/head")
async def head(request: Request, person: Technician, dossier: str) -> Response:
    """Circuit, whose limits apply, temperature, note."""
    form = await request.form()
    desk = desk_of(request)
    circuit, practice = text_of(form, "circuit"), text_of(form, "practice")
    there = circuit_names(desk.packs.now().search)
    if circuit and circuit not in there:
        raise Refusal(422, f"no circuit is called {circuit!r:.80}", ", ".join(there))
    if practice and practice not in PRACTICES:
        raise Refusal(422, f"no practice is called {practice!r:.80}", ", ".join(PRACTICES))
    keys = {
        "circuit": circuit or None,
        "practice": practice or None,
        "ambient": text_of(form, "ambient")[:40] or None,
        "by": text_of(form, "by")[:200] or None,
        "note": text_of(form, "note")[:4000] or None,
    }
    return await _done(
        request, desk, person, dossier, [Change("sheet-head-set", {"keys": keys})], form
    )


async def _done(
    request: Request,
    desk: Desk,
    person: Person,
    dossier: str,
    changes: list[Change],
    form: Mapping[str, Any],
    row: Mapping[str, Any] | None = None,
) -> Response:
    """Record, tell every page, and show the bench as it is now."""
    state = await asyncio.to_thread(noted, desk, person, dossier, changes, text_of(form, "key"))
    row = row or {}
    if not {"hx-request", "x-outbox-key"} & set(request.headers):
        return RedirectResponse(f"/dossiers/{dossier}/bench", 303)
    return await after(
        request, desk, state, line=str(row.get("line", "")), at=str(row.get("at", ""))
    )


def typed_row(form: Mapping[str, Any], *, repaired: bool) -> dict[str, Any]:
    """The row of a reading that was sent; after a repair it counts as such unless it is said to
    be of before."""
    line = text_of(form, "line")
    if line not in line_kinds():
        raise Refusal(422, f"no line is called {line!r:.80}", "one that the bench shows")
    relation = text_of(form, "relation")
    value = text_of(form, "value")[:200]
    if relation in (">", "<") and value[:1] not in (">", "<"):
        value = f"{relation}{value}"
    row = reading_row(
        line,
        text_of(form, "at")[:120],
        value,
        text_of(form, "unit")[:20],
        text_of(form, "note")[:1000],
        text_of(form, "impossible") == "yes",
    )
    if repaired and text_of(form, "before") != "yes":
        row["after"] = True
    return row


# last: its addresses are wider than those above
router.include_router(bench_import.router)
router.include_router(bench_papers.router)
router.include_router(bench_repairs.router)
