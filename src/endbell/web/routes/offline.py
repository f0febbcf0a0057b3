"""What a browser needs to do without the server for a while, and to come back to it."""

from __future__ import annotations

import json
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from ..assets import Assets
from ..csrf_token import csrf_of
from ..desk import desk_of
from ..pages import render
from ..rights import Anybody

router = APIRouter(include_in_schema=False)

HELPERS = ("ulid", "idb", "outbox", "turn", "answer", "send", "rules", "worker")
"""Scripts of ``static/offline`` that make up the service worker, in the order of their needs."""

HEAVY = ("vendor/vega",)
"""Beginnings of names that a phone isn't made to fetch beforehand: charts of the reference."""

SHELLS = ("/offline", "/offline/unsent")
"""Pages with nobody's name on them, kept from the beginning."""

PAPER, ACCENT = "#ffffff", "#0a558c"


def worker_script(assets: Assets) -> str:
    """The service worker: what belongs to this state of the program, then its parts."""
    wanted = [name for name in assets.names() if not name.startswith(HEAVY)]
    parts = [assets.address(f"offline/{name}.js") for name in HELPERS]
    return "\n".join(
        (
            '"use strict";',
            f"const STAMP = {json.dumps(assets.stamp)};",
            f"const ASSETS = {json.dumps(wanted)};",
            f"const SHELLS = {json.dumps(SHELLS)};",
            f"importScripts({', '.join(map(json.dumps, parts))});",
            "",
        )
    )


def manifest(assets: Assets) -> dict[str, Any]:
    """What a phone asks before it puts the workbench among its programs."""
    icons = [
        {"src": assets.address("icon.svg"), "type": "image/svg+xml", "sizes": "any"},
        *(
            {
                "src": assets.address(f"icons/{name}-{size}.png"),
                "type": "image/png",
                "sizes": f"{size}x{size}",
                "purpose": purpose,
            }
            for name, purpose in (("plain", "any"), ("full", "maskable"))
            for size in (192, 512)
        ),
    ]
    return {
        "id": "/",
        "name": "Endbell",
        "short_name": "Endbell",
        "description": "Dossiers of valve amplifiers at the bench",
        "start_url": "/dossiers",
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": ACCENT,
        "icons": icons,
    }


@router.get("/sw.js")
def worker(request: Request) -> Response:
    """The service worker, for the whole workbench; asked for anew each time."""
    return Response(
        worker_script(desk_of(request).assets),
        media_type="text/javascript",
        headers={"Service-Worker-Allowed": "/", "Cache-Control": "no-cache"},
    )


@router.get("/manifest.webmanifest")
def web_manifest(request: Request) -> Response:
    """The manifest."""
    return JSONResponse(manifest(desk_of(request).assets), media_type="application/manifest+json")


@router.get("/offline")
def shell(request: Request) -> HTMLResponse:
    """The page shown instead of one that can't be had."""
    return render(request, "offline/shell.html")


@router.get("/offline/unsent")
def unsent(request: Request) -> HTMLResponse:
    """The page of what has not been sent; what it shows is in the browser alone."""
    return render(request, "offline/unsent.html")


@router.get("/offline/token")
def token(request: Request, person: Anybody) -> JSONResponse:
    """Who is signed in, and a token that counts now: the page that asks may be old."""
    if person is None:
        return JSONResponse({"workbench": True, "account": None})
    secret, _ = csrf_of(request)
    return JSONResponse(
        {"workbench": True, "account": person.account, "name": person.name, "csrf": secret}
    )
