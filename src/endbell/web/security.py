"""What every answer carries so that a browser helps to keep it safe; which names are answered."""

from __future__ import annotations

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from .errors import answer, refusal_of
from .refusal import Refusal

POLICY = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob: data:",
        "media-src 'self' blob:",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
    "Cache-Control": "no-store",
}
"""Set unless the route has set its own."""

TRANSPORT = "max-age=31536000"


class SafeHeaders:
    """The middleware that adds the headers, also to the answer to a fault."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        https = scope["app"].state.desk.settings.https
        begun = False

        async def with_headers(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                if https:
                    headers.setdefault("Strict-Transport-Security", TRANSPORT)
            await send(message)

        try:
            await self.app(scope, receive, with_headers)
        except Exception as error:
            if begun:
                raise
            request = Request(scope)
            await answer(request, refusal_of(error))(scope, receive, with_headers)


class KnownHosts:
    """The middleware that answers only under names that are ours.

    A page of elsewhere can make its own name mean this machine; it can't make it one of these.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            host = host_name(Headers(scope=scope).get("host", ""))
            known = scope["app"].state.desk.settings.allowed_hosts
            if host not in known:
                refusal = Refusal(
                    421,
                    f"the workbench was asked for as {host[:80]!r}",
                    f"one of {', '.join(sorted(known))}; endbell serve --host adds a name",
                )
                await answer(Request(scope), refusal)(scope, receive, send)
                return
        await self.app(scope, receive, send)


def host_name(host: str) -> str:
    """The name without the port."""
    if host.startswith("["):
        name, mark, _ = host.partition("]")
        return name.lower() + mark
    return host.partition(":")[0].lower()
