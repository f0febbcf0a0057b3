"""Who has an account: add, another role, close, a link for a new password.  For owners."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...store.accounts import (
    ROLES,
    Account,
    AccountRefused,
    account_of,
    add_account,
    all_accounts,
    logged,
    names_of,
    set_closed,
    set_role,
)
from ...store.links import PASSWORD, make_link
from ...store.sessions import end_sessions, sessions_of
from ...store.tokens import take_token_back
from ..desk import Desk, desk_of
from ..pages import render
from ..refusal import not_found
from ..rights import Owner
from ..words import ROLE_WORDS, log_words, sentence

router = APIRouter(prefix="/accounts", include_in_schema=False)

Text = Annotated[str, Form(max_length=200)]


@router.get("")
def accounts_page(request: Request, person: Owner) -> Response:
    """Everybody, and what happened lately."""
    return _page(request)


@router.post("")
def add(request: Request, person: Owner, name: Text = "", role: Text = "") -> Response:
    """A new account, and the link by which its password is chosen."""
    desk = desk_of(request)
    try:
        account = add_account(desk.db, name, role, by=person.account, now=desk.now())
    except AccountRefused as refused:
        return _page(request, 422, refusal=sentence(str(refused)), name=name, role=role)
    return _link_page(request, desk, person.account, account)


@router.post("/{account}/role")
def change_role(request: Request, person: Owner, account: str, role: Text = "") -> Response:
    """Another role, from the next request on."""
    desk = desk_of(request)
    found = _account(desk, account)
    try:
        set_role(desk.db, found.id, role, by=person.account, now=desk.now())
    except AccountRefused as refused:
        return _page(request, 422, refusal=sentence(str(refused)))
    return _back()


@router.post("/{account}/close")
def close(request: Request, person: Owner, account: str) -> Response:
    """Nobody comes in with it any more; its entries stay and keep its name."""
    desk = desk_of(request)
    found = _account(desk, account)
    try:
        set_closed(desk.db, found.id, True, by=person.account, now=desk.now())
    except AccountRefused as refused:
        return _page(request, 422, refusal=sentence(str(refused)))
    end_sessions(desk.db, found.id, by=person.account, now=desk.now())
    take_token_back(desk.db, found.id, None, by=person.account, now=desk.now())
    return _back()


@router.post("/{account}/open")
def open_again(request: Request, person: Owner, account: str) -> Response:
    """It can be signed in with again."""
    desk = desk_of(request)
    found = _account(desk, account)
    set_closed(desk.db, found.id, False, by=person.account, now=desk.now())
    return _back()


@router.post("/{account}/link")
def link(request: Request, person: Owner, account: str) -> Response:
    """A link by which a new password is chosen; the old one stays until then."""
    desk = desk_of(request)
    return _link_page(request, desk, person.account, _account(desk, account))


@router.post("/{account}/sessions")
def sign_out_everywhere(request: Request, person: Owner, account: str) -> Response:
    """End every session of an account."""
    desk = desk_of(request)
    found = _account(desk, account)
    but = person.session if found.id == person.account else None
    end_sessions(desk.db, found.id, by=person.account, but=but, now=desk.now())
    return _back()


def _page(
    request: Request, status: int = 200, refusal: str = "", name: str = "", role: str = "technician"
) -> Response:
    desk = desk_of(request)
    names = names_of(desk.db)
    everybody = all_accounts(desk.db)
    return render(
        request,
        "accounts/page.html",
        status,
        accounts=everybody,
        sessions={
            account.id: sessions_of(desk.db, account.id, idle=desk.settings.idle, now=desk.now())
            for account in everybody
        },
        roles=ROLES,
        role_words=ROLE_WORDS,
        refusal=refusal,
        name=name,
        role=role,
        log=[
            (row.at, names.get(row.who, ""), log_words(row.what, row.about, names), row.address)
            for row in logged(desk.db, 60)
        ],
    )


def _link_page(request: Request, desk: Desk, by: str, account: Account) -> Response:
    token, ends = make_link(desk.db, PASSWORD, account.id, account.role, by=by, now=desk.now())
    address = f"{desk.settings.base_url or str(request.base_url).rstrip('/')}/password/{token}"
    return render(request, "accounts/link.html", account=account, address=address, ends=ends)


def _account(desk: Desk, account: str) -> Account:
    found = account_of(desk.db, account)
    if found is None:
        raise not_found("such account")
    return found


def _back() -> Response:
    return RedirectResponse("/accounts", 303)
