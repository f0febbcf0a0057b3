"""The token of a page, from the session's secret or, before there is one, from a visit's.

The proof follows from the secret in the cookie, so that nothing has to be kept; it is masked anew
on each page, so that what a compressed page weighs tells nothing of it.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets

from fastapi import Request

from ..store.sessions import secret
from .desk import desk_of
from .sessions import session_cookie, visit_cookie

SIZE = 32


def proof(secret: str) -> str:
    """The token for a page, masked."""
    mask = secrets.token_bytes(SIZE)
    return (mask + _xor(mask, _plain(secret))).hex()


def proves(token: str, secret: str) -> bool:
    """Whether ``token`` was made with ``secret``."""
    try:
        raw = bytes.fromhex(token)
    except ValueError:
        return False
    if len(raw) != 2 * SIZE:
        return False
    return hmac.compare_digest(_xor(raw[:SIZE], raw[SIZE:]), _plain(secret))


def csrf_of(request: Request) -> tuple[str, str | None]:
    """The token, and the secret of a new visit where one has to be set as a cookie."""
    desk = desk_of(request)
    for name in (session_cookie(desk), visit_cookie(desk)):
        kept = request.cookies.get(name)
        if kept:
            return proof(kept), None
    fresh = getattr(request.state, "visit", None) or secret()
    request.state.visit = fresh
    return proof(fresh), fresh


def _plain(secret: str) -> bytes:
    return hmac.digest(secret.encode(), b"endbell csrf", hashlib.sha256)


def _xor(one: bytes, other: bytes) -> bytes:
    return bytes(a ^ b for a, b in zip(one, other, strict=True))
