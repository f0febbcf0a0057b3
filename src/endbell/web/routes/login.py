"""Coming in and going out: the sign-in, the first start, the sign-out."""

from __future__ import annotations

import hmac
import ipaddress
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...store.accounts import OWNER, AccountRefused, account_named, add_account, rehash
from ...store.sessions import end_session
from ...store.tries import Waiting, failed, let_in, succeeded
from ..desk import desk_of
from ..pages import render
from ..passwords import PasswordRefused, check_password
from ..refusal import Refusal
from ..rights import Anybody, Reader
from ..sessions import address_of, forget, sign_in
from ..words import sentence

router = APIRouter(include_in_schema=False)

WRONG = "Name and password do not fit together."
Text = Annotated[str, Form(max_length=400)]


@router.get("/login")
def login_page(request: Request, person: Anybody, next: str = "/") -> Response:
    """The form to sign in."""
    if person is not None:
        return RedirectResponse(inside(next), 303)
    if not desk_of(request).has_accounts():
        return RedirectResponse("/setup", 303)
    return render(request, "login/page.html", next=inside(next), name="", refusal="")


@router.post("/login")
def login(request: Request, name: Text = "", password: Text = "", next: Text = "/") -> Response:
    """Sign in; what fails is said in one way, whatever it was, and takes as long."""
    desk, address = desk_of(request), address_of(request)
    try:
        let_in(desk.db, name, address, desk.now())
    except Waiting as waiting:
        return _again(request, name, next, str(waiting), 429, {"Retry-After": f"{waiting.seconds}"})
    account = account_named(desk.db, name)
    kept = account.password if account and not account.closed else ""
    if not desk.passwords.fits(password, kept) or account is None:
        failed(desk.db, name, address, desk.now())
        return _again(request, name, next, WRONG, 403)
    succeeded(desk.db, name, address)
    if desk.passwords.outdated(kept):
        rehash(desk.db, account.id, kept, desk.passwords.made(password))
    response = RedirectResponse(inside(next), 303)
    sign_in(request, response, account.id, account.role, "password")
    return response


@router.post("/logout")
def logout(request: Request, person: Reader) -> Response:
    """End this session; what the browser kept of it goes as well."""
    desk = desk_of(request)
    end_session(desk.db, person.account, person.session, by=person.account, now=desk.now())
    response = RedirectResponse("/login", 303, {"Clear-Site-Data": '"cache"'})
    forget(desk, response)
    return response


@router.get("/setup")
def setup_page(request: Request) -> Response:
    """The form of the first start."""
    if desk_of(request).has_accounts():
        return RedirectResponse("/login", 303)
    _from_here(request)
    return render(request, "login/setup.html", code="", name="", refusal="")


@router.post("/setup")
def setup(request: Request, code: Text = "", name: Text = "", password: Text = "") -> Response:
    """Make the first account; only from this machine, only with the code, only once."""
    desk = desk_of(request)
    if desk.has_accounts():
        return RedirectResponse("/login", 303)
    _from_here(request)
    typed = "".join(code.split())
    try:
        let_in(desk.db, "first start", address_of(request), desk.now())
        if not hmac.compare_digest(typed.encode(), desk.setup_code.encode()):
            failed(desk.db, "first start", address_of(request), desk.now())
            raise AccountRefused("the code is not the one that was printed at the start")
        check_password(password, name)
        account = add_account(
            desk.db,
            name,
            OWNER,
            password=desk.passwords.made(password),
            only_first=True,
            now=desk.now(),
        )
    except (AccountRefused, PasswordRefused, Waiting) as refused:
        said = sentence(str(refused))
        return render(request, "login/setup.html", 422, code=typed, name=name, refusal=said)
    response = RedirectResponse("/", 303)
    sign_in(request, response, account.id, OWNER, "setup")
    return response


def inside(address: str) -> str:
    """``address`` if it leads to a page of ours, else the start."""
    elsewhere = address.startswith(("//", "/\\"))
    if not address.startswith("/") or elsewhere or not address.isprintable():
        return "/"
    return address


def _again(
    request: Request,
    name: str,
    next: str,
    refusal: str,
    status: int,
    headers: dict[str, str] | None = None,
) -> Response:
    context = {"next": inside(next), "name": name[:80], "refusal": sentence(refusal)}
    return render(request, "login/page.html", status, headers, **context)


def _from_here(request: Request) -> None:
    address = address_of(request)
    try:
        here = ipaddress.ip_address(address).is_loopback
    except ValueError:
        here = False
    if not here:
        raise Refusal(
            403,
            "nobody has an account yet, and the first start is made on the machine itself",
            "the address that endbell serve printed, in a browser there",
        )
