"""Photos: sent, shown, looked at closely, moved to what they show, withdrawn."""

from __future__ import annotations

from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import JSONResponse, RedirectResponse

from ...store import Change, DossierState, append, state_of
from ...store.state import PhotoRow
from ..desk import desk_of
from ..errors import wants_json
from ..live import changed_soon
from ..pages import render
from ..photo_uploads import Sent, place_of, take
from ..photo_words import Shown, added_by, marks_of, of_what, parts_of, shown_photos
from ..refusal import Refusal, not_found
from ..rights import Reader, Technician
from . import photo_files

router = APIRouter()
router.include_router(photo_files.router)

SHOWN = frozenset({"image/jpeg", "image/png", "image/webp"})
"""What every browser shows; others are shown as their copy."""

# ---- sending


@router.post("/dossiers/{dossier}/photos")
async def send(request: Request, person: Technician, dossier: str) -> Response:
    """Take photos in: those that are good are kept even if another is refused."""
    desk = desk_of(request)
    async with request.form(max_files=100, max_fields=40) as form:
        sent = await take(desk.db, dossier, form, person.by)
    if sent.recorded:
        changed_soon(desk, dossier)
    if wants_json(request) and request.headers.get("hx-request") != "true":
        return JSONResponse(_as_json(sent), 201 if sent.recorded else 200)
    if request.headers.get("hx-request") == "true":
        return render(request, "photos/sent.html", dossier=sent.state, sent=sent)
    if sent.refused:
        return render(request, "photos/sent_page.html", dossier=sent.state, sent=sent)
    return RedirectResponse(f"/dossiers/{dossier}/photos", 303)


def _as_json(sent: Sent) -> dict[str, object]:
    return {
        "photos": [
            {
                "sha256": p.sha256,
                "name": p.name,
                "type": p.type,
                "bytes": p.bytes,
                "width": p.width,
                "height": p.height,
                "taken": p.taken,
                "already_at": sent.here.get(p.sha256),
            }
            for p in sent.kept
        ],
        "refused": list(sent.refused),
        "version": sent.state.version,
    }


# ---- pages


@router.get("/dossiers/{dossier}/photos")
def gallery(
    request: Request, person: Reader, dossier: str, mark: str = "", part: str = ""
) -> Response:
    """All photos of a dossier, of a mark or of a part; for htmx the pictures alone."""
    state = state_of(desk_of(request).db, dossier)
    found = [
        shown
        for shown in shown_photos(state)
        if (not mark or shown.row.mark == mark) and (not part or shown.row.part == part)
    ]
    whole = request.headers.get("hx-request") != "true"
    withdrawn = [p for p in state.photos if p.withdrawn]
    return render(
        request,
        "photos/page.html" if whole else "photos/gallery.html",
        dossier=state,
        photos=found,
        withdrawn=withdrawn,
        mark=mark,
        part=part,
        marks=marks_of(state),
    )


@router.get("/dossiers/{dossier}/photos/{sha256}")
def viewer(request: Request, person: Reader, dossier: str, sha256: str) -> Response:
    """One photo, large: next and previous by arrow keys, enlarged, moved, withdrawn, printed."""
    desk = desk_of(request)
    state = state_of(desk.db, dossier)
    row = _row(state, sha256)
    standing = shown_photos(state)
    at = next((n for n, shown in enumerate(standing) if shown.sha256 == sha256), None)
    shown = standing[at] if at is not None else Shown(row, *of_what(state, row))
    return render(
        request,
        "photos/viewer.html",
        dossier=state,
        photo=shown,
        at=at,
        count=len(standing),
        before=standing[at - 1].sha256 if at else None,
        after=standing[at + 1].sha256 if at is not None and at + 1 < len(standing) else None,
        full=f"/photos/{sha256}" + ("" if row.type in SHOWN else "/copy"),
        marks=marks_of(state),
        parts=parts_of(state),
        added=added_by(desk, state, sha256),
    )


def _row(state: DossierState, sha256: str) -> PhotoRow:
    row = next((p for p in state.photos if p.sha256 == sha256), None)
    if row is None:
        raise not_found("such photo in this dossier")
    return row


# ---- moving and withdrawing

Field = Annotated[str, Form()]


@router.post("/dossiers/{dossier}/photos/{sha256}/place")
async def place(request: Request, person: Technician, dossier: str, sha256: str) -> Response:
    """Say what a photo shows: a mark, a part, or the amp as a whole (neither)."""
    desk = desk_of(request)
    form = await request.form()
    told = place_of(form)
    key = str(form.get("key") or "") or None

    def record() -> DossierState:
        state = state_of(desk.db, dossier)
        _row(state, sha256)
        if "mark" in told and state.mark(told["mark"]) is None:
            raise Refusal(422, f"no mark {told['mark']!r} here", "a mark of this dossier")
        if "mark" in told:
            told["part"] = str((state.mark(told["mark"]) or state.marks[0]).row.get("part") or "")
        change = Change("photo-placed", {"photo": sha256, **{k: v for k, v in told.items() if v}})
        return append(desk.db, dossier, [change], by=person.by, key=key).state or state

    await to_thread.run_sync(record)
    changed_soon(desk, dossier)
    return _back(request, dossier, sha256)


@router.post("/dossiers/{dossier}/photos/{sha256}/withdraw")
def withdraw(
    request: Request,
    person: Technician,
    dossier: str,
    sha256: str,
    reason: Field = "",
    key: Field = "",
) -> Response:
    """Take a photo off the dossier; the file stays, and so does the record that it was there."""
    desk = desk_of(request)
    _row(state_of(desk.db, dossier), sha256)
    data = {"photo": sha256, **({"reason": reason[:500]} if reason.strip() else {})}
    append(desk.db, dossier, [Change("photo-withdrawn", data)], by=person.by, key=key or None)
    changed_soon(desk, dossier)
    return _back(request, dossier, sha256)


@router.post("/dossiers/{dossier}/photos/{sha256}/bring-back")
def bring_back(
    request: Request, person: Technician, dossier: str, sha256: str, key: Field = ""
) -> Response:
    """Put a withdrawn photo back where it was."""
    desk = desk_of(request)
    row = _row(state_of(desk.db, dossier), sha256)
    about = {
        "name": row.name,
        "type": row.type,
        "bytes": row.bytes,
        "mark": row.mark,
        "part": row.part,
        "taken": row.taken,
        "width": row.width,
        "height": row.height,
    }
    data = {"photo": sha256, **{k: v for k, v in about.items() if v is not None}}
    append(desk.db, dossier, [Change("photo-added", data)], by=person.by, key=key or None)
    changed_soon(desk, dossier)
    return _back(request, dossier, sha256)


def _back(request: Request, dossier: str, sha256: str) -> Response:
    address = f"/dossiers/{dossier}/photos/{sha256}"
    if request.headers.get("hx-request") == "true":
        return Response(status_code=204, headers={"HX-Redirect": address})
    return RedirectResponse(address, 303)
