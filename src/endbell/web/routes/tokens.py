"""API tokens: made by an account for a program, shown once, taken back at any time."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...store.accounts import ROLES, at_most
from ...store.tokens import make_token, take_token_back
from ..desk import desk_of
from ..refusal import Refusal, not_found
from ..rights import Reader
from .settings import settings_page_with

router = APIRouter(prefix="/settings/tokens", include_in_schema=False)

Text = Annotated[str, Form(max_length=200)]
DAYS = (7, 30, 90, 365)


@router.post("")
def make(
    request: Request,
    person: Reader,
    name: Text = "",
    role: Text = "reader",
    days: Annotated[int, Form()] = 90,
) -> Response:
    """A token for a program, that may do no more than this session."""
    desk = desk_of(request)
    name = " ".join(name.split())
    if not name or not name.isprintable():
        raise Refusal(422, "a token without a name", "the name of the program", place="name")
    if role not in ROLES:
        raise Refusal(422, f"the role is {role!r:.40}", ", ".join(ROLES), place="role")
    if days not in DAYS:
        raise Refusal(422, f"{days} days", ", ".join(map(str, DAYS)), place="days")
    token = make_token(
        desk.db,
        person.account,
        name,
        at_most(role, person.role),
        timedelta(days=days),
        by=person.account,
        now=desk.now(),
    )
    return settings_page_with(request, person, token=token)


@router.post("/{token}/take-back")
def take_back(request: Request, person: Reader, token: str) -> Response:
    """Have a token open nothing any more."""
    desk = desk_of(request)
    if not take_token_back(desk.db, person.account, token, by=person.account, now=desk.now()):
        raise not_found("such token")
    return RedirectResponse("/settings?done=token", 303)
