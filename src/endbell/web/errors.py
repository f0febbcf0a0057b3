"""Every refusal and every fault as a page, as a fragment, or as JSON: never as a traceback."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException

from ..dossier import DossierError
from ..reference import PackError
from ..store import ChangeRefused, DatabaseError, NoDossier
from ..store.accounts import AccountRefused
from ..store.faults import DriverError, Sort, sort_of
from .passwords import PasswordRefused
from .refusal import NotSignedIn, Refusal, Stopped

logger = logging.getLogger("endbell.web")

WORDS = {
    400: "That can't be read",
    401: "Not signed in",
    403: "Not allowed",
    404: "Not here",
    405: "Not that way",
    408: "Too slow",
    409: "Not as things stand",
    410: "No longer there",
    413: "Too large",
    415: "Not that kind",
    422: "Not accepted",
    429: "Too often",
    500: "A fault in Endbell itself",
    503: "Not just now",
    507: "No room",
}
ACCEPTED = {
    404: "an address that a page of the workbench gave",
    405: "the way a page of the workbench asks",
    413: "something smaller",
}


def add_handlers(app: FastAPI) -> None:
    """Have every exception answered."""
    for kind in (
        Refusal,
        HTTPException,
        RequestValidationError,
        ChangeRefused,
        AccountRefused,
        PasswordRefused,
        NoDossier,
        DatabaseError,
        DossierError,
        PackError,
        DriverError,
        OSError,
    ):
        app.add_exception_handler(kind, _handle)


DATABASE: Mapping[Sort, tuple[int, str, str]] = {
    "no room": (
        507,
        "the disk is full; nothing was recorded, what was there before is safe",
        "the same again when there is room on the disk",
    ),
    "taken": (
        409,
        "something with that name or number is there already",
        "another one, or the same again",
    ),
    "too large": (422, "a value is longer or larger than the database keeps", "a shorter one"),
    "away": (503, "the database does not answer", "the same again in a moment"),
}


def refusal_of(error: Exception) -> Refusal:
    """What is said about an exception."""
    if isinstance(error, Refusal):
        return error
    if isinstance(error, Stopped):
        return error.refusal
    if isinstance(error, RequestValidationError):
        return _invalid(error)
    if isinstance(error, HTTPException):
        found = error.detail if error.detail != HTTPStatus(error.status_code).phrase else ""
        return Refusal(
            error.status_code,
            found or WORDS.get(error.status_code, "refused").lower(),
            ACCEPTED.get(error.status_code, ""),
            headers=dict(error.headers or {}),
        )
    if isinstance(error, NoDossier):
        return Refusal(404, str(error), "an address that a page of the workbench gave")
    if isinstance(
        error, ChangeRefused | AccountRefused | PasswordRefused | DossierError | PackError
    ):
        return _sentence(422, str(error))
    if isinstance(error, DatabaseError):
        return _sentence(503, str(error))
    sort = sort_of(error)
    if sort is not None:
        return Refusal(*DATABASE[sort])
    logger.error("fault", exc_info=error)
    return Refusal(
        500,
        f"a fault in Endbell itself ({type(error).__name__}); nothing was changed",
        "the same again; if it stays, the server's own output says where",
    )


def answer(request: Request, refusal: Refusal) -> Response:
    """The refusal as whoever asks can use it."""
    headers = dict(refusal.headers)
    if wants_json(request):
        return JSONResponse(as_json(refusal), refusal.status, headers)
    htmx = request.headers.get("hx-request") == "true"
    if isinstance(refusal, NotSignedIn):
        if htmx:
            return Response(status_code=401, headers={**headers, "HX-Redirect": "/login"})
        if request.method in ("GET", "HEAD"):
            return RedirectResponse(_sign_in(request), 303, headers)
    from .pages import render

    return render(
        request,
        "errors/fragment.html" if htmx else "errors/page.html",
        status=refusal.status,
        headers=headers,
        refusal=refusal,
        words=WORDS.get(refusal.status, "Not done"),
    )


def as_json(refusal: Refusal) -> dict[str, Any]:
    """The one form of an error in JSON."""
    return {
        "error": {
            "status": refusal.status,
            "found": refusal.found,
            "accepted": refusal.accepted,
            "place": refusal.place,
        }
    }


def wants_json(request: Request) -> bool:
    """Whether a program asks and not a page."""
    if request.url.path.startswith("/api/"):
        return True
    accept = request.headers.get("accept", "")
    return "application/json" in accept and "text/html" not in accept


async def _handle(request: Request, error: Exception) -> Response:
    return answer(request, refusal_of(error))


def _sign_in(request: Request) -> str:
    from urllib.parse import quote

    if not request.app.state.desk.has_accounts():
        return "/setup"
    here = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return f"/login?next={quote(here, safe='')}" if here != "/" else "/login"


def _sentence(status: int, sentence: str) -> Refusal:
    """The sentences of the rooms below already say what would be accepted."""
    found, mark, accepted = sentence.partition("; accepted: ")
    return Refusal(status, found, accepted if mark else "")


def _invalid(error: RequestValidationError) -> Refusal:
    first = error.errors()[0]
    place = ".".join(str(step) for step in first["loc"])
    return Refusal(422, f"{place}: {first['msg']}"[:500], "what the page asks for", place=place)
