"""The API, for programs: the same records, the same rights, JSON in and out.

Rights come from a session (with the proof that pages carry) or from a token that an account made.
"""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any

from fastapi import APIRouter, FastAPI, Query, Request
from fastapi.openapi.utils import get_openapi
from fastapi.responses import JSONResponse
from fastapi.routing import APIRoute
from starlette.concurrency import run_in_threadpool

from ... import __version__
from ...store import Change, events_of, new_id, state_of
from ...store.counts import opened_with
from ..api_changes import check_changes, check_lengths, check_there, record
from ..api_lists import dossier_lines
from ..api_models import (
    Changes,
    DossierList,
    History,
    Me,
    Opening,
    PackLine,
    PackList,
    Photos,
    Recorded,
    Refused,
    State,
    VerdictOut,
    event_out,
    photo_out,
    state_out,
)
from ..desk import desk_of
from ..live import seen
from ..plain_values import check_plain
from ..rights import Reader, Technician

START = "/api/v1"
REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": Refused, "description": words}
    for status, words in (
        (401, "Nobody is signed in"),
        (403, "Not with these rights, or without the proof of a page"),
        (404, "No such dossier"),
        (409, "In use already"),
        (413, "Too large"),
        (422, "Not accepted; the error says what would be"),
    )
}
router = APIRouter(prefix=START, responses=REFUSALS)


@router.get("/me")
def me(person: Reader) -> Me:
    """Who asks, and as what."""
    return Me.model_validate(
        {"name": person.name, "role": person.role, "device": person.device_name}
    )


@router.get("/dossiers")
def dossiers(
    request: Request,
    person: Reader,
    search: Annotated[str, Query(max_length=200)] = "",
    limit: Annotated[int, Query(ge=1, le=500)] = 100,
    after: Annotated[str, Query(max_length=100)] = "",
) -> DossierList:
    """Dossiers, the last changed first; ``search``: those in which these words stand."""
    check_plain(search, "search")
    check_plain(after, "after")
    return dossier_lines(desk_of(request).db, search, limit, after)


@router.post("/dossiers", status_code=201)
def open_dossier(request: Request, person: Technician, opening: Opening) -> Recorded:
    """Book an amp in."""
    data = opening.model_dump(exclude={"key"})
    check_plain(data)
    change = Change("opened", data)
    check_lengths(change, "opening")
    desk = desk_of(request)
    found = opened_with(desk.db, opening.key)
    done = record(desk, person, found or new_id(), [change], opening.key)
    assert done.state is not None
    return Recorded(
        dossier=done.state.id,
        version=done.state.version,
        repeated=done.repeated,
        events=[event_out(event) for event in done.events],
    )


@router.get("/dossiers/{dossier}")
def dossier(request: Request, person: Reader, dossier: str) -> State:
    """Everything recorded about one amp."""
    desk = desk_of(request)
    check_there(desk, dossier)
    return state_out(state_of(desk.db, dossier))


@router.get("/dossiers/{dossier}/form")
def form(request: Request, person: Reader, dossier: str) -> dict[str, Any]:
    """The tables of its dossier file, as JSON."""
    desk = desk_of(request)
    check_there(desk, dossier)
    return state_of(desk.db, dossier).form()


@router.post("/dossiers/{dossier}/changes")
def change(request: Request, person: Technician, dossier: str, changes: Changes) -> Recorded:
    """Record changes, all or none; the same key again records nothing more."""
    desk = desk_of(request)
    check_there(desk, dossier)
    wanted = [Change(c.kind, c.data, c.typed) for c in changes.changes]
    check_changes(desk, dossier, wanted)
    done = record(desk, person, dossier, wanted, changes.key)
    assert done.state is not None
    return Recorded(
        dossier=dossier,
        version=done.state.version,
        repeated=done.repeated,
        events=[event_out(event) for event in done.events],
    )


@router.get("/dossiers/{dossier}/history")
def history(
    request: Request,
    person: Reader,
    dossier: str,
    after: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
) -> History:
    """Every change, in order; ``after``: those after that number."""
    desk = desk_of(request)
    check_there(desk, dossier)
    state_of(desk.db, dossier)
    found = events_of(desk.db, dossier, after)
    return History(dossier=dossier, events=[event_out(event) for event in found])


@router.get("/dossiers/{dossier}/verdict")
async def verdict(request: Request, person: Reader, dossier: str) -> VerdictOut:
    """The verdict on it, weighed now if need be."""
    desk = desk_of(request)
    check_there(desk, dossier)
    state = await run_in_threadpool(state_of, desk.db, dossier)
    found = await seen(desk, state, wait=True)
    return VerdictOut(
        dossier=dossier,
        version=found.state.version,
        says=found.weighed.strip.says,
        verdict=found.weighed.values or None,
        trouble=found.weighed.trouble,
    )


@router.get("/dossiers/{dossier}/photos")
def photos(request: Request, person: Reader, dossier: str) -> Photos:
    """Its photos; each is at ``/photos/{sha256}``."""
    desk = desk_of(request)
    check_there(desk, dossier)
    state = state_of(desk.db, dossier)
    return Photos(dossier=dossier, photos=[photo_out(photo) for photo in state.photos])


@router.get("/packs")
def packs(request: Request, person: Reader) -> PackList:
    """The packs that a dossier can name."""
    found = desk_of(request).packs.available()
    return PackList(
        packs=[PackLine(id=pack.id, title=pack.title, version=pack.version) for pack in found]
    )


@router.get("/openapi.json", include_in_schema=False)
def openapi(request: Request, person: Reader) -> JSONResponse:
    """What the API takes and gives, in OpenAPI's own form."""
    return JSONResponse(description(request.app))


@cache
def description(app: FastAPI) -> dict[str, Any]:
    """The API in OpenAPI's own form."""
    routes = [
        route
        for route in router.routes
        if isinstance(route, APIRoute) and route.path.startswith(START)
    ]
    made = get_openapi(
        title="Endbell", version=__version__, summary="Dossiers of amps", routes=routes
    )
    made.setdefault("components", {})["securitySchemes"] = {
        "token": {"type": "http", "scheme": "bearer"},
        "session": {"type": "apiKey", "in": "cookie", "name": "endbell"},
    }
    made["security"] = [{"token": []}, {"session": []}]
    return made
