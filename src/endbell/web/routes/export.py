"""Everything out, or chosen dossiers; and the tag of one amp."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import StreamingResponse

from ...reference import PackError
from ...report.tag import TagRefused, tag_of, tags_pdf
from ...store import state_of
from ...store.counts import whole
from ...store.exporting import ExportRefused, export
from ...store.exporting_form import LEFT_OUT
from ..desk import Desk, desk_of
from ..pages import render
from ..refusal import Refusal
from ..rights import Owner, Reader
from .shelf_bulk import picked

router = APIRouter()

AS_IT_IS = {"Content-Encoding": "identity"}
"""Packed already: packing it again would only take time."""


@router.get("/export")
def page(request: Request, person: Owner) -> Response:
    """What an export holds, what it leaves out, and the button."""
    counts = whole(desk_of(request).db)
    return render(request, "export/page.html", counts=counts, left_out=LEFT_OUT)


@router.get("/export/all.zip")
def everything(request: Request, person: Owner) -> Response:
    """The whole database with all photos, written while it is sent."""
    desk = desk_of(request)
    return _sent(desk, None, f"endbell-{_stamp(desk.now())}.zip")


@router.post("/export")
def chosen(
    request: Request,
    person: Owner,
    id: Annotated[list[str], Form()] = [],  # noqa: B006
    every: Annotated[str, Form(max_length=4000)] = "",
    query: Annotated[str, Form(max_length=4000)] = "",
) -> Response:
    """The dossiers picked on the shelf, or (``every``) all that its search finds."""
    desk = desk_of(request)
    ids = [state.id for state in picked(desk, id, every, query)]
    return _sent(desk, ids, f"endbell-{len(ids)}-dossiers-{_stamp(desk.now())}.zip")


@router.get("/dossiers/{dossier}/tag.pdf")
def tag(
    request: Request,
    person: Reader,
    dossier: str,
    size: str = "62x29",
    first: int = 1,
    whose: bool = False,
) -> Response:
    """The tag of an amp.  ``first``: on a sheet, the first free label; ``whose``: with the name."""
    desk = desk_of(request)
    state = state_of(desk.db, dossier)
    try:
        reference = desk.packs.reference(state.packs)
    except PackError:  # a pack that can't be used: the model by its id
        reference = None
    name = str(state.intake.get("whose") or "") if whose else ""
    day = state.opened_at[:10]
    try:
        made = tag_of(state.id, state.number, state.claim, day, reference, name)
        pdf = tags_pdf([made], size, first)
    except TagRefused as error:
        found, _, accepted = str(error).partition("; accepted: ")
        raise Refusal(422, found, accepted) from None
    headers = {"Content-Disposition": f'inline; filename="tag-{state.id}.pdf"'}
    return Response(pdf, media_type="application/pdf", headers=headers)


def _sent(desk: Desk, ids: Sequence[str] | None, name: str) -> Response:
    blocks = export(desk.db, ids, now=desk.now())
    try:
        first = next(blocks)
    except ExportRefused as error:
        found, _, accepted = str(error).partition("; accepted: ")
        raise Refusal(422, found, accepted) from None

    def all_blocks() -> Iterator[bytes]:
        yield first
        yield from blocks

    headers = {"Content-Disposition": f'attachment; filename="{name}"', **AS_IT_IS}
    return StreamingResponse(all_blocks(), media_type="application/zip", headers=headers)


def _stamp(now: datetime) -> str:
    return now.astimezone().strftime("%Y-%m-%d-%H%M")
