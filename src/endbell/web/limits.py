"""How much may be sent, and how slowly."""

from __future__ import annotations

import asyncio
import re

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from .errors import answer
from .refusal import Refusal, Stopped

MB = 1024 * 1024
PLAIN = MB
LARGER = (
    (re.compile(r"/dossiers/[^/]+/photos(/.*)?"), 128 * MB),
    (re.compile(r"/book-in(/.*)?"), 128 * MB),
    (re.compile(r"/import(/.*)?"), 2048 * MB),
    (re.compile(r"/packs/.*"), 8 * MB),
)
"""Where more than the plain limit may come in."""

SILENCE = 60.0
"""Seconds that a sender may pause within a body."""


def limit_of(path: str) -> int:
    """Bytes that a request to this path may carry."""
    return next((most for pattern, most in LARGER if pattern.fullmatch(path)), PLAIN)


class Limits:
    """The middleware that stops what is too large or too slow."""

    def __init__(self, app: ASGIApp, silence: float = SILENCE) -> None:
        self.app = app
        self.silence = silence

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        most = limit_of(scope["path"])
        slow = Refusal(408, "nothing more came", "the same again on a better line")
        told = Headers(scope=scope).get("content-length", "0")
        refusal = Refusal(413, "more was sent than is taken here", f"at most {most // MB} MB")
        if not told.isascii() or not told.isdigit() or int(told) > most:
            await answer(Request(scope), refusal)(scope, receive, send)
            return
        came, begun, whole = 0, False, False

        async def limited() -> Message:
            nonlocal came, whole
            if whole:
                return await receive()
            try:
                message = await asyncio.wait_for(receive(), self.silence)
            except TimeoutError:
                raise Stopped(slow) from None
            came += len(message.get("body", b""))
            whole = not message.get("more_body", False)
            if came > most:
                raise Stopped(refusal)
            return message

        async def watched(message: Message) -> None:
            nonlocal begun
            begun = begun or message["type"] == "http.response.start"
            await send(message)

        try:
            await self.app(scope, limited, watched)
        except Stopped as stopped:
            if begun:
                raise
            await answer(Request(scope), stopped.refusal)(scope, receive, send)
