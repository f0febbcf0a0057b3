"""What happened to a dossier, and taking it back: what is taken back only stops counting."""

from __future__ import annotations

import asyncio
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...store import Change, events_of
from ...store.accounts import all_accounts
from ...store.sessions import device_names
from ..desk import Desk, desk_of
from ..history_lines import LASTING, Line, history, last_redoable, last_undoable
from ..live import changed
from ..pages import render
from ..refusal import Refusal
from ..rights import Reader, Technician
from ..sessions import Person
from .live import state_now
from .marks import recorded

router = APIRouter()

SHOWN = 200
"""Lines on a page; the older ones follow on further pages."""


@router.get("/dossiers/{dossier}/history", include_in_schema=False)
async def show(
    request: Request, person: Reader, dossier: str, mark: str = "", before: int = 0
) -> Response:
    """Every event, the newest first.  ``mark``: of one mark only; ``before``: older than that."""
    return await _page(request, dossier, mark, before)


@router.post("/dossiers/{dossier}/undo", include_in_schema=False)
async def undo(
    request: Request,
    person: Technician,
    dossier: str,
    n: Annotated[int | None, Form()] = None,
    key: Annotated[str | None, Form(max_length=60)] = None,
    mark: Annotated[str, Form(max_length=64)] = "",
) -> Response:
    """Take back event ``n``, or the last thing one did oneself."""
    return await _turn(request, person, dossier, "undone", n, key, mark)


@router.post("/dossiers/{dossier}/redo", include_in_schema=False)
async def redo(
    request: Request,
    person: Technician,
    dossier: str,
    n: Annotated[int | None, Form()] = None,
    key: Annotated[str | None, Form(max_length=60)] = None,
    mark: Annotated[str, Form(max_length=64)] = "",
) -> Response:
    """Let event ``n`` count again, or what one took back last."""
    return await _turn(request, person, dossier, "redone", n, key, mark)


async def _turn(
    request: Request,
    person: Person,
    dossier: str,
    kind: str,
    n: int | None,
    key: str | None,
    mark: str,
) -> Response:
    desk = desk_of(request)
    events = await asyncio.to_thread(events_of, desk.db, dossier)
    if n is None:
        find = last_undoable if kind == "undone" else last_redoable
        n = find(events, person.account)
        if n is None:
            word = "to take back" if kind == "undone" else "that was taken back"
            raise Refusal(409, f"there is nothing of yours {word}", "an entry of the history")
    event = next((e for e in events if e.n == n), None)
    if event is None or event.kind in LASTING:
        raise Refusal(422, f"no. {n} can't be taken back", "an entry, a photo, a change")
    turned = Change(kind, {"n": n})
    state = await asyncio.to_thread(recorded, desk, person, dossier, turned, key or "")
    await changed(desk, dossier, state)
    if request.headers.get("hx-request") != "true":
        return RedirectResponse(f"/dossiers/{dossier}/history", 303)
    if request.headers.get("hx-target") == "history":
        return await _page(request, dossier, mark, 0)
    lines = await _lines(desk, dossier)
    about = next(line for line in lines if line.n == n)
    return render(request, "history/turned.html", dossier=state, line=about, kind=kind)


async def _page(request: Request, dossier: str, mark: str, before: int) -> Response:
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    lines = await _lines(desk, dossier)
    if mark:
        lines = tuple(line for line in lines if line.mark == mark)
    if before:
        lines = tuple(line for line in lines if line.n < before)
    number = {m.id: n for n, m in enumerate(state.standing, start=1)}
    part = request.headers.get("hx-target") == "history"
    return render(
        request,
        "history/lines.html" if part else "history/page.html",
        dossier=state,
        lines=lines[:SHOWN],
        older=lines[SHOWN - 1].n if len(lines) > SHOWN else 0,
        mark=mark,
        number=number,
    )


async def _lines(desk: Desk, dossier: str) -> tuple[Line, ...]:
    events = await asyncio.to_thread(events_of, desk.db, dossier)
    accounts = await asyncio.to_thread(all_accounts, desk.db)
    devices = await asyncio.to_thread(device_names, desk.db)
    return history(events, {account.id: account.name for account in accounts}, devices)
