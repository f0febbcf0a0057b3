"""Static files, sent once and kept: an address with the present stamp never changes its content."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from ..desk import desk_of
from ..refusal import not_found

router = APIRouter()

FAR = "public, max-age=31536000, immutable"


@router.get("/static/{stamp}/{name:path}", include_in_schema=False)
async def static(request: Request, stamp: str, name: str) -> Response:
    """A static file; under the present stamp it may be kept for good."""
    assets = desk_of(request).assets
    asset = assets.get(name)
    if asset is None:
        raise not_found("such file")
    headers = {
        "ETag": f'"{asset.tag}"',
        "Cache-Control": FAR if stamp == assets.stamp else "no-cache",
        "Vary": "Accept-Encoding",
    }
    if request.headers.get("if-none-match") == headers["ETag"]:
        return Response(status_code=304, headers=headers)
    packs = asset.packed is not None and "gzip" in request.headers.get("accept-encoding", "")
    body = asset.packed if packs and asset.packed is not None else asset.raw
    if packs:
        headers["Content-Encoding"] = "gzip"
    return Response(body, media_type=asset.type, headers=headers)
