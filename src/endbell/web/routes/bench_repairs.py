"""Parts replaced at the bench, faults found, removed parts handed back to their owner."""

from __future__ import annotations

import asyncio
from itertools import count
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse
from starlette.datastructures import FormData

from ...dossier.parts import known_ids, known_part
from ...dossier.values import nearest_words
from ...store import Change, DossierState, new_id
from ..amp_now import reference_of
from ..bench_desk import after, noted, repaired
from ..claims import date_text, text_of
from ..desk import Desk, desk_of
from ..refusal import Refusal
from ..rights import Technician
from ..sessions import Person
from .live import state_now

router = APIRouter(include_in_schema=False)

ROWS = {"replaced": "replaced", "faults": "fault", "handovers": "handover"}
"""Lists that a row can be withdrawn from, and how an event names a row of each."""


@router.post("/dossiers/{dossier}/bench/replaced")
async def replaced(request: Request, person: Technician, dossier: str) -> Response:
    """A part replaced by another: the dossier's verdict of originality follows."""
    form = await request.form()
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    changes = await asyncio.to_thread(_replaced, desk, person, state, form)
    return await _done(request, desk, person, dossier, changes, form)


def _replaced(desk: Desk, person: Person, state: DossierState, form: FormData) -> list[Change]:
    part = text_of(form, "part")[:80]
    before = _described(desk, state, part, text_of(form, "class"))
    row: dict[str, Any] = {"part": part}
    for key in ("by_what", "why", "first", "after", "note"):
        if text_of(form, key):
            row[key] = text_of(form, key)[:500]
    if not row.get("by_what"):
        raise Refusal(422, f"{part} replaced by nothing", "what is fitted now")
    if not row.get("why"):
        raise Refusal(422, f"{part} replaced without a reason", "why the old one had to go")
    row["by"] = text_of(form, "by")[:200] or person.name
    row["done"] = date_text("done", text_of(form, "done") or desk.today().isoformat())
    if text_of(form, "kept") == "yes":
        row |= {"kept": True, "bag": _bag(desk, state, text_of(form, "bag"))}
    data: dict[str, Any] = {"replaced": new_id(), "row": row}
    marks = [mark.id for mark in state.standing if mark.row.get("part") == part]
    # what was seen on one that was removed before stays with that
    marks = [mark for mark in marks if mark not in state.bench.on_removed()]
    if marks:
        data |= {"marks": marks, "removed": _removed(desk, state, part)}
    return [*before, Change("replaced-set", data)]


def _removed(desk: Desk, state: DossierState, part: str) -> dict[str, str]:
    """The ``[[part]]`` that the old part is from now on: 'ot-removed', of the same class."""
    reference = reference_of(desk, state.packs)
    taken = {str(row.get("id")) for row in (*state.parts, *state.bench.removed())}
    names = (f"{part}-removed{f'-{n}' if n > 1 else ''}" for n in count(1))
    row = {"id": next(name for name in names if name not in taken)}
    described = next((r for r in state.parts if r.get("id") == part), None)
    known = known_part(part, reference)
    if described is not None:
        return row | {k: str(described[k]) for k in ("class", "assembly") if described.get(k)}
    return row | ({"class": known.part_class, "assembly": known.assembly} if known else {})


def _bag(desk: Desk, state: DossierState, asked: str) -> str:
    """The number of the bag: the one that was written on it, else the next."""
    used = [str(row.row.get("bag")) for row in state.bench.standing("replaced")]
    if asked and asked in used:
        raise Refusal(422, f"bag {asked} is in use", "a number of its own for each bag")
    return asked[:40] or repaired(desk, state).bag


def _described(desk: Desk, state: DossierState, part: str, part_class: str) -> list[Change]:
    """What has to be said of a part that neither the packs nor the dossier know."""
    if not part or not part.isprintable() or "/" in part:
        raise Refusal(422, "a part without a name", "its id, such as ot or elco-1")
    reference = reference_of(desk, state.packs)
    described = {str(row.get("id")) for row in state.parts}
    if part in described or known_part(part, reference) is not None:
        return []
    if part_class in reference.classes:
        return [Change("part-set", {"row": {"id": part, "class": part_class}})]
    near = nearest_words(part, (*described, *known_ids(reference)))
    would = f"{', '.join(near)}; or what sort of part it is" if near else "what sort of part it is"
    raise Refusal(422, f"no part is called {part!r}", would)


@router.post("/dossiers/{dossier}/bench/faults")
async def fault(request: Request, person: Technician, dossier: str) -> Response:
    """A fault that was found, in words."""
    form = await request.form()
    desk = desk_of(request)
    row = {k: text_of(form, k)[:500] for k in ("fault", "at", "part", "note") if text_of(form, k)}
    if not row.get("fault"):
        raise Refusal(422, "a fault without a name", "what was found, in words")
    row |= {"by": person.name, "on": desk.today().isoformat()}
    change = Change("fault-set", {"fault": new_id(), "row": row})
    return await _done(request, desk, person, dossier, [change], form)


@router.post("/dossiers/{dossier}/bench/handovers")
async def hand_over(request: Request, person: Technician, dossier: str) -> Response:
    """Bags of removed parts handed to whoever the amp belongs to."""
    form = await request.form()
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    there = [one.bag for one in (await asyncio.to_thread(repaired, desk, state)).in_hand]
    bags = [bag for bag in form.getlist("bags") if isinstance(bag, str)]
    if not bags:
        raise Refusal(422, "no bag", f"one of {', '.join(there)}" if there else "a bag in the shop")
    wrong = [bag for bag in bags if bag not in there]
    if wrong:
        raise Refusal(422, f"bag {wrong[0]:.40} is not at the shop", ", ".join(there) or "none is")
    to = text_of(form, "to")[:200]
    if not any(c.isalpha() for c in to):
        raise Refusal(422, "handed to nobody", "the name of who takes them")
    row: dict[str, Any] = {"bags": bags, "to": to, "by": text_of(form, "by")[:200] or person.name}
    row["on"] = text_of(form, "on")[:40] or desk.today().isoformat()
    if text_of(form, "note"):
        row["note"] = text_of(form, "note")[:1000]
    change = Change("bags-handed-over", {"handover": new_id(), "row": row})
    return await _done(request, desk, person, dossier, [change], form)


@router.post("/dossiers/{dossier}/bench/{what}/{row}/withdraw")
async def withdraw(
    request: Request, person: Technician, dossier: str, what: str, row: str
) -> Response:
    """A replacement, a fault or a handing-over that was recorded by mistake."""
    form = await request.form()
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    if what not in ROWS or not any(one.id == row for one in state.bench.standing(what)):
        raise Refusal(404, "there is no such row", "one of those listed")
    change = Change(f"{ROWS[what]}-withdrawn", {ROWS[what]: row})
    return await _done(request, desk, person, dossier, [change], form)


async def _done(
    request: Request,
    desk: Desk,
    person: Person,
    dossier: str,
    changes: list[Change],
    form: FormData,
) -> Response:
    state = await asyncio.to_thread(noted, desk, person, dossier, changes, text_of(form, "key"))
    if not {"hx-request", "x-outbox-key"} & set(request.headers):
        return RedirectResponse(f"/dossiers/{dossier}/bench", 303)
    return await after(request, desk, state, opened="repairs")
