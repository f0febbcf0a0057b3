"""Forms of other sites are refused: every unsafe request proves that a page of ours made it."""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs, urlsplit

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from .csrf_token import proves
from .desk import Desk
from .errors import answer
from .refusal import Refusal
from .sessions import session_cookie, visit_cookie

SAFE = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
HEADER, FIELD = "x-csrf-token", "csrf"
FORM, PARTS = "application/x-www-form-urlencoded", "multipart/form-data"
FIRST_BYTES = 64 * 1024
"""So far into a form with files the field is looked for: it stands first in ours."""


class Csrf:
    """The middleware: an unsafe request without proof goes no further.

    A request with an API token is let through: a browser does not send one by itself.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in SAFE:
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if headers.get("authorization", "").lower().partition(" ")[0] == "bearer":
            await self.app(scope, receive, send)
            return
        secret = _secret(scope["app"].state.desk, headers)
        token = headers.get(HEADER)
        held: list[Message] = []
        if _from_elsewhere(headers):
            token = None
        elif token is None:
            token, held = await _from_form(headers, receive)
        if secret is None or token is None or not proves(token, secret):
            refusal = Refusal(
                403,
                "the request does not come from a page of this workbench, or the page is too old",
                "the same again after loading the page anew",
            )
            await answer(Request(scope), refusal)(scope, receive, send)
            return
        await self.app(scope, _again(held, receive), send)


def _secret(desk: Desk, headers: Headers) -> str | None:
    cookies = SimpleCookie()
    try:
        cookies.load(headers.get("cookie", ""))
    except CookieError:
        return None
    for name in (session_cookie(desk), visit_cookie(desk)):
        if name in cookies and cookies[name].value:
            return cookies[name].value
    return None


def _from_elsewhere(headers: Headers) -> bool:
    """What the browser itself says of where the request comes from."""
    if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        return True
    origin = headers.get("origin")
    return origin is not None and urlsplit(origin).netloc != headers.get("host", "")


async def _from_form(headers: Headers, receive: Receive) -> tuple[str | None, list[Message]]:
    """The field of a form, and what was read of the body to find it."""
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in (FORM, PARTS):
        return None, []
    body, held, more = b"", list[Message](), True
    while more:
        message = await receive()
        held.append(message)
        if message["type"] != "http.request":
            return None, held
        body += message.get("body", b"")
        more = message.get("more_body", False)
        if kind == PARTS and (found := _field_of_parts(body[:FIRST_BYTES])) is not None:
            return found, held
        if kind == PARTS and len(body) > FIRST_BYTES:
            return None, held
    if kind == PARTS:
        return None, held
    try:
        values = parse_qs(body.decode("utf-8"), max_num_fields=2000).get(FIELD)
    except (UnicodeDecodeError, ValueError):
        values = None
    return (values[0] if values else None), held


def _field_of_parts(body: bytes) -> str | None:
    """The value of the field in the beginning of a form with files.

    A plain search is enough: whoever can write the right value there has it already.
    """
    at = body.find(b'name="%s"\r\n\r\n' % FIELD.encode())
    if at < 0:
        return None
    start = body.index(b"\r\n\r\n", at) + 4
    end = body.find(b"\r\n", start)
    return body[start:end].decode("ascii", "replace") if end >= 0 else None


def _again(held: list[Message], receive: Receive) -> Receive:
    """What was read already first, the rest after it."""
    waiting = iter(held)

    async def from_the_start() -> Message:
        return next(waiting, None) or await receive()

    return from_the_start
