"""The cookies of a signed-in browser, and who is behind one."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from fastapi import Request, Response

from ..store import By
from ..store.sessions import Session, begin_session, device_for, session_of
from ..store.tokens import token_of
from .desk import Desk, desk_of

LIFE_OF_A_DEVICE = timedelta(days=400)


@dataclass(frozen=True, slots=True)
class Person:
    """Who asks.  ``account``, ``device``, ``session`` are ids; ``session`` is '' for an API token.

    ``role``: what they may do in this session.  ``settings``: how they like their pages.
    """

    account: str
    name: str
    role: str
    device: str
    device_name: str
    session: str
    settings: Mapping[str, Any] = field(default_factory=dict[str, Any])

    @property
    def by(self) -> By:
        """Who and on which device, for what is recorded."""
        return By(self.account, self.device or self.device_name)


def session_cookie(desk: Desk) -> str:
    """The name of the cookie with the session's secret."""
    return "__Host-endbell" if desk.settings.https else "endbell"


def visit_cookie(desk: Desk) -> str:
    """The name of the cookie that stands in for a session until there is one."""
    return "__Host-endbell-visit" if desk.settings.https else "endbell-visit"


def device_cookie(desk: Desk) -> str:
    """The name of the cookie by which a device is known again."""
    return "__Host-endbell-device" if desk.settings.https else "endbell-device"


def person_of(desk: Desk, token: str | None) -> Person | None:
    """Who has the session with that secret, if it stands."""
    if not token:
        return None
    session = session_of(desk.db, token, idle=desk.settings.idle, now=desk.now())
    return person_from(session) if session else None


def bearer_of(request: Request) -> str | None:
    """The API token that came with a request, whatever it is worth."""
    scheme, _, token = request.headers.get("authorization", "").partition(" ")
    return token.strip() if scheme.lower() == "bearer" else None


def program_of(desk: Desk, token: str) -> Person | None:
    """Whose program has that API token, if it still opens."""
    found = token_of(desk.db, token, desk.now())
    if found is None:
        return None
    return Person(found.account, found.account_name, found.role, "", found.name, "")


def person_from(session: Session) -> Person:
    """The person of a standing session."""
    return Person(
        session.account,
        session.name,
        session.role,
        session.device,
        session.device_name,
        session.id,
        json.loads(session.settings),
    )


def sign_in(request: Request, response: Response, account: str, role: str, way: str) -> None:
    """Begin a session and put its cookies on ``response``; one that was there before ends."""
    desk = desk_of(request)
    device, secret = device_for(
        desk.db,
        request.cookies.get(device_cookie(desk)),
        device_guess(request.headers.get("user-agent", "")),
        desk.now(),
    )
    token = begin_session(
        desk.db,
        account,
        device,
        role,
        way,
        before=request.cookies.get(session_cookie(desk)),
        address=address_of(request),
        absolute=desk.settings.absolute,
        now=desk.now(),
    )
    set_cookie(desk, response, session_cookie(desk), token, desk.settings.absolute)
    # Strict: nobody comes from elsewhere with a device and no session
    set_cookie(desk, response, device_cookie(desk), secret, LIFE_OF_A_DEVICE, strict=True)
    response.delete_cookie(visit_cookie(desk), path="/", secure=desk.settings.https)


def forget(desk: Desk, response: Response) -> None:
    """Take the session's cookie away; the device stays known."""
    response.delete_cookie(session_cookie(desk), path="/", secure=desk.settings.https)


def set_cookie(
    desk: Desk,
    response: Response,
    name: str,
    value: str,
    life: timedelta | None,
    strict: bool = False,
) -> None:
    """A cookie that no script reads and no other site sends with a form."""
    response.set_cookie(
        name,
        value,
        max_age=int(life.total_seconds()) if life else None,
        path="/",
        secure=desk.settings.https,
        httponly=True,
        samesite="strict" if strict else "lax",
    )


def address_of(request: Request) -> str:
    """The address of the machine that asks."""
    return request.client.host if request.client else ""


def device_guess(agent: str) -> str:
    """A first name for a device: its owner can give it a better one."""
    kind = next(
        (
            name
            for mark, name in (
                ("iPhone", "phone"),
                ("iPad", "tablet"),
                ("Android", "phone" if "Mobile" in agent else "tablet"),
                ("Windows", "desk"),
                ("Macintosh", "desk"),
                ("Linux", "desk"),
            )
            if mark in agent
        ),
        "device",
    )
    return kind
