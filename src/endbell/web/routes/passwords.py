"""Choosing a password: by a link that an owner gave, or by knowing the present one."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...store.accounts import account_of, set_password
from ...store.links import PASSWORD, link_of, use_link
from ...store.sessions import end_sessions
from ...store.tries import Waiting, failed, let_in, succeeded
from ..desk import desk_of
from ..pages import render
from ..passwords import PasswordRefused, check_password
from ..refusal import Refusal
from ..rights import Reader
from ..sessions import address_of, sign_in
from ..words import sentence

router = APIRouter(include_in_schema=False)

Text = Annotated[str, Form(max_length=1000)]
PRIVATE = {"Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex"}
"""The address of the page is a secret."""


@router.get("/password/{token}")
def new_password_page(request: Request, token: str) -> Response:
    """The form for a new password."""
    link = link_of(desk_of(request).db, PASSWORD, token, desk_of(request).now())
    if link is None:
        raise _gone()
    return render(
        request, "accounts/password.html", 200, PRIVATE, token=token, name=link.name, refusal=""
    )


@router.post("/password/{token}")
def new_password(request: Request, token: str, password: Text = "") -> Response:
    """Take the new password, end all sessions, sign in."""
    desk = desk_of(request)
    link = link_of(desk.db, PASSWORD, token, desk.now())
    if link is None:
        raise _gone()
    try:
        check_password(password, link.name)
    except PasswordRefused as refused:
        return render(
            request,
            "accounts/password.html",
            422,
            PRIVATE,
            token=token,
            name=link.name,
            refusal=sentence(str(refused)),
        )
    kept = desk.passwords.made(password)
    if use_link(desk.db, PASSWORD, token, desk.now()) is None:
        raise _gone()
    set_password(desk.db, link.account, kept, by=link.account, now=desk.now())
    end_sessions(desk.db, link.account, by=link.account, now=desk.now())
    account = account_of(desk.db, link.account)
    response = RedirectResponse("/", 303)
    if account is not None:
        sign_in(request, response, account.id, account.role, "link")
    return response


@router.post("/settings/password")
def change_password(
    request: Request, person: Reader, present: Text = "", password: Text = ""
) -> Response:
    """Another password for oneself; every other session ends, this one goes on under a new name."""
    desk, address = desk_of(request), address_of(request)
    account = account_of(desk.db, person.account)
    assert account is not None
    try:
        let_in(desk.db, account.name, address, desk.now())
        if not desk.passwords.fits(present, account.password):
            failed(desk.db, account.name, address, desk.now())
            raise PasswordRefused("the present password is another one")
        check_password(password, account.name)
    except (PasswordRefused, Waiting) as refused:
        from .settings import settings_page_with

        return settings_page_with(request, person, 422, sentence(str(refused)))
    succeeded(desk.db, account.name, address)
    kept = desk.passwords.made(password)
    set_password(desk.db, account.id, kept, by=account.id, now=desk.now())
    end_sessions(desk.db, account.id, by=account.id, now=desk.now())
    response = RedirectResponse("/settings?done=password", 303)
    sign_in(request, response, account.id, person.role, "password")
    return response


def _gone() -> Refusal:
    return Refusal(
        410,
        "this link has been used, has expired or was never given",
        "a new one, which an owner can make",
        headers=PRIVATE,
    )
