"""What to look at next: one check first, why it, and what to say where it can't be made."""

from __future__ import annotations

import asyncio
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...store import Change, DossierState
from ...store.events import ANSWERS
from ..desk import desk_of
from ..live import Seen, changed, seen
from ..pages import render
from ..panels import offer
from ..refusal import Refusal
from ..rights import Reader, Technician
from .live import state_now
from .marks import recorded

router = APIRouter()

ANSWER_WORDS = {
    "not-possible": "can't be done on this amp",
    "not-now": "not now",
    "nothing-there": "there is nothing there to look at",
}


@router.get("/dossiers/{dossier}/next", include_in_schema=False)
async def next_check(request: Request, person: Reader, dossier: str, deepest: str = "") -> Response:
    """The check to make now, the others after it.  ``deepest``: the level to go to at most."""
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    return _panel(request, state, await seen(desk, state), deepest)


@router.post("/dossiers/{dossier}/answers", include_in_schema=False)
async def answer(
    request: Request,
    person: Technician,
    dossier: str,
    check: Annotated[str, Form(max_length=120)],
    part: Annotated[str, Form(max_length=120)],
    answer: Annotated[str, Form(max_length=40)] = "not-possible",
    reason: Annotated[str, Form(max_length=1000)] = "",
    deepest: Annotated[str, Form(max_length=40)] = "",
    key: Annotated[str | None, Form(max_length=60)] = None,
) -> Response:
    """A check that can't be made is an answer too: it is recorded, and the next one comes up."""
    if answer not in ANSWERS:
        raise Refusal(422, f"the answer {answer!r}", f"one of {', '.join(ANSWERS)}")
    desk = desk_of(request)
    said = Change(
        "check-answered",
        {"check": check, "part": part, "answer": answer, "reason": reason.strip()},
    )
    state = await asyncio.to_thread(recorded, desk, person, dossier, said, key or "")
    await changed(desk, dossier, state)
    if request.headers.get("hx-request") != "true":
        return RedirectResponse(f"/dossiers/{dossier}", 303)
    return _panel(request, state, await seen(desk, state), deepest)


def _panel(request: Request, state: DossierState, found: Seen, deepest: str) -> Response:
    """The checks of ``found``, which may be of a moment ago, less what ``state`` answers by now."""
    weighed = found.weighed
    return render(
        request,
        "next/panel.html",
        dossier=state,
        seen=found,
        offer=offer(weighed, state, deepest),
        deepest=deepest,
        answers=ANSWER_WORDS,
        levels=weighed.levels,
        answered=state.answers,
    )
