"""The files of photos: the original, small pictures, the copy that may leave the shop."""

from __future__ import annotations

from pathlib import Path

from anyio import to_thread
from fastapi import APIRouter, Request, Response
from fastapi.responses import FileResponse, RedirectResponse

from ...store.counts import dossiers_with
from ...store.photos import SIZES, NoPhoto, PhotoRefused, open_photo, outgoing, thumb, thumb_there
from ..desk import Desk, desk_of
from ..photo_uploads import unpacking
from ..refusal import Refusal, not_found
from ..rights import Reader

router = APIRouter()

HARMLESS = {
    "Content-Security-Policy": "sandbox; default-src 'none'",
    "X-Content-Type-Options": "nosniff",
    "Content-Encoding": "identity",  # packed already: packing it again only takes time
    "Cache-Control": "private, no-cache",  # kept, but asked for whether one still may
}
"""A file from outside is never more than a picture, whatever else is in it."""


@router.get("/photos/{sha256}")
def original(request: Request, person: Reader, sha256: str) -> Response:
    """The photo as it was taken; a browser that opens it as a page is led to the viewer."""
    if request.headers.get("sec-fetch-dest") == "document":
        dossier = _dossier_with(desk_of(request), sha256, request.headers.get("referer", ""))
        if dossier:
            return RedirectResponse(f"/dossiers/{dossier}/photos/{sha256}", 303)
    try:
        found = open_photo(desk_of(request).db, sha256)
    except NoPhoto:
        raise not_found("photo with that hash") from None
    name = f"{sha256[:16]}.{found.kind.ending}"
    return _file(request, found.path, found.kind.type, sha256, name)


@router.get("/photos/{sha256}/thumb")
async def small(request: Request, person: Reader, sha256: str, size: int = SIZES[0]) -> Response:
    """A small picture of it: upright, nothing in it but the picture."""
    if size not in SIZES:
        raise Refusal(422, f"a size of {size}", f"{SIZES[0]} or {SIZES[1]} pixels")
    db = desk_of(request).db
    try:
        there = await to_thread.run_sync(thumb_there, db, sha256, size)
        # one that is there doesn't wait behind photos that are being unpacked
        path = there or await to_thread.run_sync(thumb, db, sha256, size, limiter=unpacking())
    except (NoPhoto, PhotoRefused):
        raise not_found("photo with that hash") from None
    return _file(request, path, "image/webp", f"{sha256}-{size}", f"{sha256[:16]}-{size}.webp")


@router.get("/photos/{sha256}/copy")
async def copy(request: Request, person: Reader, sha256: str) -> Response:
    """The copy that may leave the shop: no place, no camera, no serial number in it."""
    db = desk_of(request).db
    try:
        found = await to_thread.run_sync(outgoing, db, sha256, limiter=unpacking())
    except (NoPhoto, PhotoRefused):
        raise not_found("photo with that hash") from None
    name = f"{sha256[:16]}-copy.{found.kind.ending}"
    return _file(request, found.path, found.kind.type, f"{sha256}-out", name)


def _file(request: Request, path: Path, kind: str, tag: str, name: str) -> Response:
    """A file that never changes; ``tag`` names its bytes."""
    headers = {**HARMLESS, "ETag": f'"{tag}"'}
    if request.headers.get("if-none-match") == headers["ETag"]:
        return Response(status_code=304, headers=headers)
    return FileResponse(
        path, media_type=kind, filename=name, content_disposition_type="inline", headers=headers
    )


def _dossier_with(desk: Desk, sha256: str, referer: str) -> str | None:
    """A dossier that has the photo: the one whose page led here, if it is one of them."""
    ids = dossiers_with(desk.db, sha256)
    return next((found for found in ids if found in referer), ids[0] if ids else None)
