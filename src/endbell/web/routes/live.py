"""The strip, the time line, the stream of what happens, the dossier as file and as report."""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import AsyncIterator
from contextlib import aclosing
from html import unescape

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, StreamingResponse

from ...report.wording import SIGNS
from ...store import DossierState, state_of
from ...store.sessions import sessions_of
from ..as_file import file_of
from ..asking import day_of
from ..desk import Desk, desk_of
from ..fragments import fragment
from ..hub import PRESENCE, RETRY_MS, Viewer, frame
from ..live import seen, strip_html, strip_of
from ..pages import render
from ..panels import marks_shown
from ..refusal import Refusal
from ..rights import Reader
from ..sessions import Person

router = APIRouter()

SESSION_SECONDS = 10.0
"""How long a stream may go on after its session has ended."""

_META = re.compile(r'http-equiv="Content-Security-Policy" content="([^"]*)"')


async def state_now(desk: Desk, dossier: str) -> DossierState:
    """The present state; NoDossier where there is none."""
    return await asyncio.to_thread(state_of, desk.db, dossier)


@router.get("/dossiers/{dossier}/strip", include_in_schema=False)
async def strip(request: Request, person: Reader, dossier: str) -> Response:
    """The verdict in brief."""
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    return HTMLResponse(strip_html(state, await strip_of(desk, state)))


@router.get("/dossiers/{dossier}/timeline", include_in_schema=False)
async def timeline(request: Request, person: Reader, dossier: str) -> Response:
    """The time line with a card for each mark."""
    desk = desk_of(request)
    found = await seen(desk, await state_now(desk, dossier))
    return render(
        request,
        "live/timeline.html",
        dossier=found.state,
        seen=found,
        marks=marks_shown(found),
        signs=[(word, sign) for word, (sign, _) in SIGNS.items()],
    )


@router.get("/dossiers/{dossier}/events", include_in_schema=False)
async def events(request: Request, person: Reader, dossier: str, since: int = 0) -> Response:
    """What happens to the dossier, as it happens.  ``since``: the version that the page shows."""
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    last = request.headers.get("last-event-id", "")
    return StreamingResponse(
        _stream(desk, person, state, since, last),
        media_type="text/event-stream",
        headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"},
    )


async def _stream(
    desk: Desk, person: Person, state: DossierState, since: int, last: str
) -> AsyncIterator[str]:
    hub = desk.hub
    viewer = Viewer(person.account, person.name, person.role, person.device_name, person.session)
    yield f"retry: {RETRY_MS}\n\n"
    missed = not last.startswith(hub.epoch) if last else 0 < since < state.version
    if missed:  # the page is of another time: all that it shows may be old
        yield f"event: changed\ndata: {state.version}\n\n"
        html = strip_html(state, await strip_of(desk, state))
        lines = "".join(f"data: {line}\n" for line in html.splitlines())
        yield f"event: strip\n{lines}\n"
        yield f"event: verdict\ndata: {state.version}\n\n"
    checked = time.monotonic()
    async with aclosing(hub.events(state.id, viewer, last)) as happening:
        async for happened in happening:
            if time.monotonic() - checked >= SESSION_SECONDS:
                checked = time.monotonic()
                if not await asyncio.to_thread(_stands, desk, person):
                    return
            if happened is None:
                yield ": still here\n\n"
                continue
            if happened.name == PRESENCE:
                others = [v for v in hub.viewers(state.id) if v.session != person.session]
                html = fragment("live/presence.html", others=others, person=person)
                yield (
                    f"event: {PRESENCE}\n"
                    + "".join(f"data: {line}\n" for line in html.splitlines() or [""])
                    + "\n"
                )
                continue
            yield frame(happened, hub.id_of(happened))


def _stands(desk: Desk, person: Person) -> bool:
    """Whether the session still stands; looking does not make it stand any longer."""
    if not person.session:  # an API token, whose every request is checked
        return True
    standing = sessions_of(desk.db, person.account, idle=desk.settings.idle, now=desk.now())
    return any(session.id == person.session for session in standing)


@router.get("/dossiers/{dossier}/file.toml", include_in_schema=False)
async def file(request: Request, person: Reader, dossier: str) -> Response:
    """The dossier as the file that ``endbell weigh`` reads."""
    state = await state_now(desk_of(request), dossier)
    name = re.sub(r"[^A-Za-z0-9._-]+", "-", state.number).strip("-.") or "dossier"
    return Response(
        file_of(state.form(), day_of(state)),
        media_type="application/toml; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}.toml"'},
    )


@router.get("/dossiers/{dossier}/report", include_in_schema=False)
async def report(request: Request, person: Reader, dossier: str) -> Response:
    """The whole verdict on one page that can be printed or kept."""
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    html = await desk.weigher.report(state.form(), day=day_of(state))
    if not html:
        trouble = (await strip_of(desk, state)).trouble
        raise Refusal(422, trouble or "there is no verdict", "a dossier that can be weighed")
    policy = _META.search(html)
    headers = {"Content-Security-Policy": unescape(policy[1])} if policy else {}
    return HTMLResponse(html, headers=headers)
