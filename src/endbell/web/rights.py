"""Who may do what: the dependencies by which a route says whom it is for."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request

from ..store.accounts import OWNER, READER, ROLES, TECHNICIAN
from .desk import desk_of
from .refusal import NotSignedIn, no_right
from .sessions import Person, bearer_of, person_of, program_of, session_cookie

OPEN_ROUTES = frozenset(
    {
        ("GET", "/login"),
        ("POST", "/login"),
        ("GET", "/setup"),
        ("POST", "/setup"),
        ("GET", "/static/{stamp}/{name:path}"),
        ("GET", "/sw.js"),
        ("GET", "/manifest.webmanifest"),
        ("GET", "/offline"),
        ("GET", "/offline/token"),
        ("GET", "/offline/unsent"),
        ("GET", "/healthy"),
    }
)
"""Routes for anybody.  Everything else names a role, or opens with a token of its own (below)."""

TOKEN_ROUTES = frozenset(
    {
        ("GET", "/pair/{token}"),
        ("POST", "/pair/{token}"),
        ("GET", "/password/{token}"),
        ("POST", "/password/{token}"),
        ("GET", "/s/{token}"),
        ("GET", "/s/{token}/photos/{sha256}"),
    }
)
"""Routes whose address holds the secret that opens them."""


def who(request: Request) -> Person | None:
    """Who asks, looked up once a request."""
    if not hasattr(request.state, "person"):
        desk = desk_of(request)
        bearer = bearer_of(request)
        if bearer is not None:  # then no cookie counts: the request was not asked for a proof
            request.state.person = program_of(desk, bearer) if for_programs(request) else None
        else:
            request.state.person = person_of(desk, request.cookies.get(session_cookie(desk)))
    return request.state.person


def reader(request: Request) -> Person:
    """Somebody signed in."""
    return _at_least(request, READER)


def technician(request: Request) -> Person:
    """Somebody who may write in dossiers."""
    return _at_least(request, TECHNICIAN)


def owner(request: Request) -> Person:
    """Somebody to whom the shop belongs."""
    return _at_least(request, OWNER)


def _at_least(request: Request, role: str) -> Person:
    person = who(request)
    if person is None:
        raise NotSignedIn
    if ROLES.index(person.role) < ROLES.index(role):
        raise no_right(person.role, role)
    return person


def for_programs(request: Request) -> bool:
    """Whether an API token opens this address."""
    return request.url.path.startswith("/api/")


Reader = Annotated[Person, Depends(reader)]
Technician = Annotated[Person, Depends(technician)]
Owner = Annotated[Person, Depends(owner)]
Anybody = Annotated[Person | None, Depends(who)]
