"""Saying a key back: how a browser knows that the workbench itself has what it sent."""

from __future__ import annotations

import re

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

ASKED, SAID = "x-outbox-key", "X-Outbox-Kept"
KEY = re.compile(r"[0-9A-HJKMNP-TV-Z]{26}")


class SaysKeysBack:
    """The middleware: an answer that is no refusal carries the key that came with the request.

    The gate page of a public Wi-Fi answers 200 to whatever is sent; without the key said back the
    browser keeps what it has.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        key = Headers(scope=scope).get(ASKED, "") if scope["type"] == "http" else ""
        if not KEY.fullmatch(key):
            await self.app(scope, receive, send)
            return

        async def saying(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] < 400:
                MutableHeaders(scope=message)[SAID] = key
            await send(message)

        await self.app(scope, receive, saying)
