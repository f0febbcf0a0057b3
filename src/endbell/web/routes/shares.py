"""Sharing a dossier: links that expire and can be taken back, and what they show."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse
from starlette.concurrency import run_in_threadpool

from ...store import DossierState, state_of
from ...store.accounts import names_of
from ...store.shares import Share, looked, make_share, share_of, shares_of, take_back
from ...store.thumbs import SIZES, thumb
from ..asking import day_of
from ..desk import Desk, desk_of
from ..pages import render
from ..qr import qr_svg
from ..reader import Reading
from ..refusal import Refusal, not_found
from ..rights import Technician
from ..shared import PRIVATE, Shown, shared_page

router = APIRouter(include_in_schema=False)

Text = Annotated[str, Form(max_length=400)]
DAYS = (1, 7, 30, 90, 365)


@router.get("/dossiers/{dossier}/shares")
def shares_page(request: Request, person: Technician, dossier: str) -> Response:
    """The links to a dossier, and a form for a new one."""
    desk = desk_of(request)
    return _page(request, desk, state_of(desk.db, dossier))


@router.post("/dossiers/{dossier}/shares")
def share(
    request: Request,
    person: Technician,
    dossier: str,
    label: Text = "",
    days: Annotated[int, Form()] = 30,
    photos: Annotated[bool, Form()] = False,
) -> Response:
    """A new link, shown this once."""
    desk = desk_of(request)
    if days not in DAYS:
        raise Refusal(422, f"{days} days", ", ".join(map(str, DAYS)), place="days")
    label = " ".join(label.split())
    if len(label) > 120 or not label.isprintable():
        raise Refusal(422, "the label can't be kept", "at most 120 letters", place="label")
    state = state_of(desk.db, dossier)
    token, made = make_share(
        desk.db,
        dossier,
        timedelta(days=days),
        label=label,
        photos=photos,
        by=person.account,
        now=desk.now(),
    )
    base = desk.settings.base_url or str(request.base_url).rstrip("/")
    return _page(request, desk, state, address=f"{base}/s/{token}", made=made)


@router.post("/dossiers/{dossier}/shares/{share}/take-back")
def take_share_back(request: Request, person: Technician, dossier: str, share: str) -> Response:
    """Have a link open no more, at once."""
    desk = desk_of(request)
    if not take_back(desk.db, dossier, share, by=person.account, now=desk.now()):
        raise not_found("such link")
    return RedirectResponse(f"/dossiers/{dossier}/shares", 303)


@router.get("/s/{token}")
async def shared(request: Request, token: str) -> Response:
    """The report of a shared dossier, read only."""
    desk = desk_of(request)
    found, state = await run_in_threadpool(_opened, desk, token)
    report = await desk.weigher.report(state.form(), day=day_of(state))
    if not report:
        raise Refusal(
            409, "there is no verdict on this amp yet", "the same link later", headers=PRIVATE
        )
    await run_in_threadpool(looked, desk.db, found.id, desk.now())
    until = f"Shared for reading until {Reading().day(found.ends_at)}."
    shown = _photos(state, token) if found.photos else []
    page, policy = shared_page(report, shown, until)
    return HTMLResponse(page, headers={**PRIVATE, "Content-Security-Policy": policy})


@router.get("/s/{token}/photos/{sha256}")
def shared_photo(request: Request, token: str, sha256: str, large: bool = False) -> Response:
    """A picture of a shared dossier: made small, with nothing in it but the picture."""
    desk = desk_of(request)
    found, state = _opened(desk, token)
    there = {photo.sha256 for photo in state.photos if not photo.withdrawn}
    if not found.photos or sha256 not in there:
        raise not_found("such photo")
    path = thumb(desk.db, sha256, SIZES[1] if large else SIZES[0])
    return FileResponse(path, media_type="image/webp", headers=PRIVATE)


def _opened(desk: Desk, token: str) -> tuple[Share, DossierState]:
    found = share_of(desk.db, token, desk.now())
    if found is None:
        raise Refusal(
            410,
            "this link has expired, was taken back or was never given",
            "a new one from the shop",
            headers=PRIVATE,
        )
    return found, state_of(desk.db, found.dossier)


def _photos(state: DossierState, token: str) -> list[Shown]:
    marks = {mark.id: mark for mark in state.standing}
    shown: list[Shown] = []
    for photo in state.photos:
        if photo.withdrawn:
            continue
        mark = marks.get(photo.mark or "")
        part = str(mark.row.get("part", "")) if mark else photo.part or ""
        text = str(mark.row.get("text", "")) if mark else ""
        words = ": ".join(word for word in (part, text) if word) or "the amp"
        address = f"/s/{token}/photos/{photo.sha256}"
        shown.append(Shown(address, f"{address}?large=true", words))
    return shown


def _page(
    request: Request, desk: Desk, state: DossierState, address: str = "", made: Share | None = None
) -> Response:
    return render(
        request,
        "shares/page.html",
        state=state,
        shares=shares_of(desk.db, state.id),
        now=desk.now(),
        names=names_of(desk.db),
        days=DAYS,
        address=address,
        made=made,
        qr=qr_svg(address, "The link as a code for a phone's camera") if address else "",
    )
