"""Parts that the dossier describes, and repairs that are known of."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData

from ...dossier.parts import known_ids, known_part
from ...dossier.values import nearest_words
from ...store import Change, new_id, state_of
from ..amp_now import reference_of
from ..claims import date_text, text_of
from ..desk import desk_of
from ..refusal import Refusal
from ..rights import Technician
from ..sessions import Person
from .record import record, record_page

router = APIRouter()


@router.post("/dossiers/{dossier}/parts", include_in_schema=False)
async def describe(request: Request, person: Technician, dossier: str) -> Response:
    """A part that no usual id names, or one that is not what its id says."""
    form = await request.form()
    return await run_in_threadpool(_describe, request, person, dossier, form)


def _describe(request: Request, person: Person, dossier: str, form: FormData) -> Response:
    desk = desk_of(request)
    state = state_of(desk.db, dossier)
    reference = reference_of(desk, state.packs)
    part, part_class = text_of(form, "id"), text_of(form, "class")
    assembly = text_of(form, "assembly")
    if not part or not part.isprintable() or "/" in part:
        raise Refusal(422, "a part without a name", "a short name, such as lamp or pot-7")
    usual = known_part(part, reference)
    if not part_class and usual is None:
        near = nearest_words(part, known_ids(reference))
        would = f"its class, or a usual id ({', '.join(near)})" if near else "its class"
        raise Refusal(422, f"{part!r} is no usual part", would)
    row = {"id": part} | {k: v for k, v in (("class", part_class), ("assembly", assembly)) if v}
    done = record(desk, person, dossier, [Change("part-set", {"row": row})], text_of(form, "key"))
    return record_page(request, desk, done, "parts", stale=True)


@router.post("/dossiers/{dossier}/repairs", include_in_schema=False)
async def repair(request: Request, person: Technician, dossier: str) -> Response:
    """Work that is known of."""
    form = await request.form()
    return await run_in_threadpool(_repair, request, person, dossier, form)


def _repair(request: Request, person: Person, dossier: str, form: FormData) -> Response:
    desk = desk_of(request)
    state = state_of(desk.db, dossier)
    part = text_of(form, "part")
    described = {str(row.get("id")) for row in state.parts}
    reference = reference_of(desk, state.packs)
    if part not in described and known_part(part, reference) is None:
        near = nearest_words(part, (*described, *known_ids(reference)))
        would = ", ".join(near) if near else "the id of a part, such as ot or pot-3"
        raise Refusal(422, f"no part is called {part!r}", would)
    row: dict[str, Any] = {"part": part, "replaced": text_of(form, "replaced") == "yes"}
    done_on = text_of(form, "done")
    if done_on:
        row["done"] = date_text("done", done_on)
    note = text_of(form, "note")
    if note:
        row["note"] = note
    change = Change("repair-set", {"repair": new_id(), "row": row})
    done = record(desk, person, dossier, [change], text_of(form, "key"))
    return record_page(request, desk, done, "repairs", stale=True)


@router.post("/dossiers/{dossier}/repairs/{repair}/withdraw", include_in_schema=False)
def withdraw_repair(request: Request, person: Technician, dossier: str, repair: str) -> Response:
    """A repair that was recorded by mistake; it stays in the history."""
    desk = desk_of(request)
    state = state_of(desk.db, dossier)
    if not any(row.id == repair and not row.withdrawn for row in state.repairs):
        raise Refusal(404, "no such repair", "one of those listed")
    done = record(desk, person, dossier, [Change("repair-withdrawn", {"repair": repair})])
    return record_page(request, desk, done, "repairs", stale=True)
