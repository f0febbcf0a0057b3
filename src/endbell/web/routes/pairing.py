"""A phone signs in by a code that is shown here: once, within minutes, never with more rights."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...store.accounts import ROLES, at_most
from ...store.links import LIFE, PAIRING, link_of, make_link, use_link
from ..desk import desk_of
from ..pages import render
from ..qr import qr_svg
from ..refusal import Refusal
from ..rights import Reader
from ..sessions import sign_in
from ..words import ROLE_WORDS
from .passwords import PRIVATE

router = APIRouter(prefix="/pair", include_in_schema=False)

Text = Annotated[str, Form(max_length=40)]


@router.get("")
def phone_page(request: Request, person: Reader) -> Response:
    """Where a code for a phone is asked for."""
    return render(request, "accounts/phone.html", roles=_roles(person.role), role_words=ROLE_WORDS)


@router.post("")
def show_code(request: Request, person: Reader, role: Text = "") -> Response:
    """A code for a phone, as a picture and as an address."""
    desk = desk_of(request)
    limit = at_most(role if role in ROLES else person.role, person.role)
    token, ends = make_link(
        desk.db, PAIRING, person.account, limit, by=person.account, now=desk.now()
    )
    base = desk.settings.base_url or str(request.base_url).rstrip("/")
    address = f"{base}/pair/{token}"
    return render(
        request,
        "accounts/code.html",
        address=address,
        qr=qr_svg(address, "Code for the phone's camera"),
        ends=ends,
        minutes=int(LIFE[PAIRING].total_seconds() // 60),
        role=limit,
    )


@router.get("/{token}")
def pair_page(request: Request, token: str) -> Response:
    """On the phone: ask before signing in (a preview of the address must not use it up)."""
    desk = desk_of(request)
    link = link_of(desk.db, PAIRING, token, desk.now())
    if link is None:
        raise _gone()
    return render(
        request,
        "accounts/pair.html",
        200,
        PRIVATE,
        token=token,
        name=link.name,
        role=link.role,
    )


@router.post("/{token}")
def pair(request: Request, token: str) -> Response:
    """Sign the phone in."""
    desk = desk_of(request)
    link = use_link(desk.db, PAIRING, token, desk.now())
    if link is None:
        raise _gone()
    response = RedirectResponse("/", 303, PRIVATE)
    sign_in(request, response, link.account, link.role, "pairing")
    return response


def _roles(most: str) -> tuple[str, ...]:
    return tuple(reversed(ROLES[: ROLES.index(most) + 1]))


def _gone() -> Refusal:
    return Refusal(
        410,
        "this code has been used, has expired or was never shown",
        "a new one from Settings, 'A phone', where you are signed in",
        headers=PRIVATE,
    )
