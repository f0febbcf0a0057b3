"""Why the verdict is what it is, and what it would be without some of the marks."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from ...report.wording import SIGNS
from ..asking import day_of
from ..desk import desk_of
from ..live import Seen, seen
from ..pages import render
from ..panels import marks_shown, numbers_of
from ..rights import Reader
from ..weighed import PartLine, Weighed
from .live import state_now

router = APIRouter()

MOST_LEFT_OUT = 400
"""As many marks as are weighed in one dossier."""


@router.get("/dossiers/{dossier}/why", include_in_schema=False)
async def why(request: Request, person: Reader, dossier: str) -> Response:
    """The sentences, the conflicts, what each mark did, what would change it, how firm it is."""
    desk = desk_of(request)
    found = await seen(desk, await state_now(desk, dossier))
    return render(
        request,
        "why/panel.html",
        dossier=found.state,
        seen=found,
        marks=marks_shown(found),
        signs=_signs(),
        changed={},
    )


@router.get("/dossiers/{dossier}/what-if", include_in_schema=False)
async def what_if(
    request: Request,
    person: Reader,
    dossier: str,
    without: Annotated[list[str], Query(max_length=MOST_LEFT_OUT)] = [],  # noqa: B006 (never changed)
) -> Response:
    """The verdict as if some marks had never been made.  Nothing of it is recorded."""
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    numbers = numbers_of(state, without)
    recorded = await seen(desk, state, wait=True)
    weighed = recorded.weighed
    if numbers:
        owner = f"{state.id} what-if {person.session}"
        weighed = await desk.weigher.verdict(
            state.form(), day=day_of(state), owner=owner, without=numbers
        )
    then = Seen(state, weighed, current=True)
    target = request.headers.get("hx-target", "")
    return render(
        request,
        "why/what_if_body.html" if target == "what-if" else "why/what_if.html",
        dossier=state,
        recorded=recorded,
        seen=then,
        strip=weighed.strip,
        marks=marks_shown(recorded, numbers),
        left_out=[m for m in marks_shown(recorded, numbers) if m.left_out],
        changed=_changed(recorded.weighed, weighed),
        signs=_signs(),
    )


def _signs() -> dict[str, str]:
    return {word: sign for word, (sign, _) in SIGNS.items()}


def _changed(before: Weighed, after: Weighed) -> dict[str, PartLine]:
    """The parts as recorded of those that are called something else without the marks."""
    now = {part.part: part.word for part in after.parts}
    return {part.part: part for part in before.parts if now.get(part.part) != part.word}
