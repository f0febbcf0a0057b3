"""Accounts, passwords by link, settings, sessions elsewhere, phones, tokens."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from fastapi import FastAPI

from endbell.store.accounts import (
    AccountRefused,
    account_named,
    add_account,
    all_accounts,
    set_role,
)
from endbell.store.links import LIFE, PAIRING, PASSWORD, make_link, use_link
from endbell.store.sessions import hashed, sessions_of
from endbell.store.tokens import make_token
from endbell.web.desk import Desk

from .conftest import Client
from .running import NAMES, session_for
from .running import PASSWORD as WORDS

ADDRESS = re.compile(r'id="address" readonly value="[^"]*(/(?:password|pair|s)/[^"]+)"')
NEW = "a new sentence to remember"


def account_id(desk: Desk, name: str) -> str:
    account = account_named(desk.db, name)
    assert account is not None
    return account.id


def visiting(app: FastAPI) -> Client:
    """A browser that has seen a page and is not signed in."""
    client = Client(app)
    client.cookies.set("endbell-visit", "v" * 43, domain="127.0.0.1")
    client.prove("v" * 43)
    return client


def address_on(page: str) -> str:
    found = ADDRESS.search(page)
    assert found is not None, page[:2000]
    return found[1]


# ---- accounts


def test_an_owner_adds_somebody_who_chooses_a_password_by_a_link_that_works_once(
    app: FastAPI, owner: Client
) -> None:
    link = address_on(owner.post("/accounts", data={"name": "Nia", "role": "technician"}).text)
    nia = visiting(app)
    assert "A password for Nia" in nia.get(link).text
    assert nia.post(link, data={"password": "short"}).status_code == 422
    done = nia.post(link, data={"password": NEW}, follow_redirects=False)
    assert done.status_code == 303
    assert nia.get("/settings").status_code == 200
    assert visiting(app).get(link).status_code == 410
    assert visiting(app).post(link, data={"password": NEW}).status_code == 410


def test_a_link_for_a_password_expires_and_a_new_one_takes_the_old_ones_place(desk: Desk) -> None:
    account, now = account_id(desk, NAMES["reader"]), desk.now()
    old, _ = make_link(desk.db, PASSWORD, account, "reader", by="x", now=now)
    new, _ = make_link(desk.db, PASSWORD, account, "reader", by="x", now=now)
    assert use_link(desk.db, PASSWORD, old, now) is None
    assert use_link(desk.db, PAIRING, new, now) is None
    assert use_link(desk.db, PASSWORD, new, now + LIFE[PASSWORD]) is None
    assert use_link(desk.db, PASSWORD, new, now) is not None
    assert use_link(desk.db, PASSWORD, new, now) is None


def test_a_new_password_by_link_ends_every_session(
    app: FastAPI, owner: Client, reader: Client, desk: Desk
) -> None:
    account = account_id(desk, NAMES["reader"])
    link = address_on(owner.post(f"/accounts/{account}/link").text)
    assert reader.get("/settings").status_code == 200
    visiting(app).post(link, data={"password": NEW})
    assert reader.get("/settings", follow_redirects=False).status_code == 303


def test_another_role_holds_from_the_next_request_on(
    owner: Client, client: Client, desk: Desk
) -> None:
    account = account_id(desk, NAMES["technician"])
    assert client.get("/accounts").status_code == 403
    owner.post(f"/accounts/{account}/role", data={"role": "owner"})
    # a session begun as technician stays one; the next sign-in has the new role
    assert client.get("/accounts").status_code == 403
    owner.post(f"/accounts/{account}/role", data={"role": "reader"})
    assert client.get("/book-in").status_code == 403


def test_a_closed_account_is_out_at_once_and_can_be_opened_again(
    app: FastAPI, owner: Client, client: Client, desk: Desk
) -> None:
    account = account_id(desk, NAMES["technician"])
    token = make_token(desk.db, account, "p", "reader", timedelta(days=1), by=account)
    program = Client(app)
    program.headers["authorization"] = f"Bearer {token}"
    assert program.get("/api/v1/me").status_code == 200
    owner.post(f"/accounts/{account}/close")
    assert client.get("/settings", follow_redirects=False).status_code == 303
    assert program.get("/api/v1/me").status_code == 401
    owner.post(f"/accounts/{account}/open")
    assert client.get("/settings", follow_redirects=False).status_code == 303
    assert program.get("/api/v1/me").status_code == 401


def test_the_last_owner_stays_owner(owner: Client, desk: Desk) -> None:
    account = account_id(desk, NAMES["owner"])
    for what, body in (("role", {"role": "reader"}), ("close", {})):
        answer = owner.post(f"/accounts/{account}/{what}", data=body)
        assert answer.status_code == 422
        assert "only owner" in answer.text
    with pytest.raises(AccountRefused, match="only owner"):
        set_role(desk.db, account, "technician", by="x")


@pytest.mark.parametrize("name", ["", "   ", "olive  OWNER", "a\x07b", "x" * 81])
def test_a_name_that_is_none_or_taken_is_refused(owner: Client, desk: Desk, name: str) -> None:
    answer = owner.post("/accounts", data={"name": name, "role": "reader"})
    assert answer.status_code == 422
    assert len(all_accounts(desk.db)) == 3


def test_a_role_that_is_none_is_refused(owner: Client, desk: Desk) -> None:
    assert owner.post("/accounts", data={"name": "Nia", "role": "king"}).status_code == 422
    with pytest.raises(AccountRefused, match="reader, technician, owner"):
        add_account(desk.db, "Nia", "king")


def test_the_log_tells_what_happened_in_words(owner: Client, desk: Desk) -> None:
    owner.post("/accounts", data={"name": "Nia", "role": "reader"})
    page = owner.get("/accounts").text
    assert "account added: Nia (reader)" in page
    assert "link for a new password made: Nia" in page


# ---- settings


def test_pages_look_as_their_reader_likes_them(client: Client) -> None:
    client.post("/settings", data={"theme": "dark", "units": "inch", "dates": "iso"})
    page = client.get("/settings").text
    assert 'data-theme="dark"' in page
    assert 'data-units="inch"' in page
    assert re.search(r"\d{4}-\d\d-\d\d, \d\d:\d\d", page)
    answer = client.post("/settings", data={"theme": "pink", "units": "mm", "dates": "iso"})
    assert answer.status_code == 422
    assert "system, light, dark" in answer.text


def test_another_password_needs_the_present_one_and_ends_all_other_sessions(
    app: FastAPI, client: Client, desk: Desk
) -> None:
    elsewhere = Client(app, session_for(desk.db, "technician"))
    before = client.cookies["endbell"]
    body = {"present": "not this one", "password": NEW}
    assert client.post("/settings/password", data=body).status_code == 422
    body = {"present": WORDS, "password": "short"}
    assert client.post("/settings/password", data=body).status_code == 422
    done = client.post(
        "/settings/password", data={"present": WORDS, "password": NEW}, follow_redirects=False
    )
    assert done.status_code == 303
    assert elsewhere.get("/settings", follow_redirects=False).status_code == 303
    stale = Client(app, before)
    assert stale.get("/settings", follow_redirects=False).status_code == 303
    assert len(sessions_of(desk.db, account_id(desk, NAMES["technician"]))) == 1


def test_one_sees_where_one_is_signed_in_and_ends_it_there(
    app: FastAPI, client: Client, desk: Desk
) -> None:
    elsewhere = Client(app, session_for(desk.db, "technician"))
    others = [
        session.id
        for session in sessions_of(desk.db, account_id(desk, NAMES["technician"]))
        if f"/settings/sessions/{session.id}/end" in client.get("/settings").text
    ]
    assert len(others) == 1
    client.post(f"/settings/sessions/{others[0]}/end")
    assert elsewhere.get("/settings", follow_redirects=False).status_code == 303
    assert client.get("/settings").status_code == 200


def test_nobody_ends_the_session_of_somebody_else(
    client: Client, owner: Client, desk: Desk
) -> None:
    theirs = sessions_of(desk.db, account_id(desk, NAMES["owner"]))[0]
    assert client.post(f"/settings/sessions/{theirs.id}/end").status_code == 404
    assert owner.get("/settings").status_code == 200


# ---- a phone


def test_a_phone_signs_in_once_by_the_code_and_has_no_more_rights(
    app: FastAPI, owner: Client
) -> None:
    page = owner.post("/pair", data={"role": "technician"}).text
    assert "<svg" in page
    link = address_on(page)
    phone = visiting(app)
    # looking does not use it up: a preview of the address must not
    assert "as technician" in phone.get(link).text
    assert phone.get(link).status_code == 200
    assert phone.post(link, follow_redirects=False).status_code == 303
    assert phone.get("/book-in").status_code == 200
    assert phone.get("/accounts").status_code == 403
    assert visiting(app).post(link).status_code == 410


def test_a_code_for_a_phone_expires_within_minutes(
    app: FastAPI, client: Client, desk: Desk
) -> None:
    link = address_on(client.post("/pair", data={"role": "technician"}).text)
    start = desk.now()
    desk.clock = lambda: start + LIFE[PAIRING] + timedelta(seconds=1)
    assert LIFE[PAIRING] <= timedelta(minutes=10)
    assert visiting(app).post(link).status_code == 410


def test_a_reader_cannot_give_a_phone_more_than_reading(app: FastAPI, reader: Client) -> None:
    link = address_on(reader.post("/pair", data={"role": "owner"}).text)
    phone = visiting(app)
    phone.post(link)
    assert phone.get("/settings").status_code == 200
    assert phone.get("/book-in").status_code == 403


def test_the_page_of_a_code_tells_its_address_to_nobody(app: FastAPI, client: Client) -> None:
    link = address_on(client.post("/pair", data={}).text)
    headers = visiting(app).get(link).headers
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cache-control"] == "no-store"


# ---- tokens


def test_a_token_is_shown_once_kept_hashed_and_does_what_it_was_made_for(
    app: FastAPI, client: Client, desk: Desk
) -> None:
    page = client.post("/settings/tokens", data={"name": "labels", "role": "reader", "days": "7"})
    found = re.search(r'id="token" readonly value="(endbell_[^"]+)"', page.text)
    assert found is not None
    assert found[1] not in client.get("/settings").text
    raw = b"".join(path.read_bytes() for path in desk.db.folder.glob("endbell.sqlite*"))
    assert hashed(found[1]).encode() in raw
    assert found[1].encode() not in raw
    program = Client(app)
    program.headers["authorization"] = f"Bearer {found[1]}"
    assert program.get("/api/v1/me").json()["role"] == "reader"
    body = {"key": "A" * 20, "number": "T-9"}
    assert program.post("/api/v1/dossiers", json=body).status_code == 403
    # it is for the API alone
    assert program.get("/settings", follow_redirects=False).status_code == 303
    taken = re.search(r"/settings/tokens/(\w+)/take-back", client.get("/settings").text)
    assert taken is not None
    client.post(f"/settings/tokens/{taken[1]}/take-back")
    assert program.get("/api/v1/me").status_code == 401


def test_a_token_expires(app: FastAPI, desk: Desk) -> None:
    account, start = account_id(desk, NAMES["owner"]), desk.now()
    token = make_token(desk.db, account, "p", "owner", timedelta(days=7), by=account)
    program = Client(app)
    program.headers["authorization"] = f"Bearer {token}"
    assert program.get("/api/v1/me").status_code == 200
    desk.clock = lambda: start + timedelta(days=7, seconds=1)
    assert program.get("/api/v1/me").status_code == 401


def test_a_bad_token_is_not_made_good_by_a_cookie(
    signed_in: Callable[[str], Client],
) -> None:
    client = signed_in("owner")
    client.headers["authorization"] = "Bearer endbell_made-up"
    assert client.get("/api/v1/me").status_code == 401
    assert client.post("/settings/device", data={"name": "x"}).status_code == 401


def test_nobody_gets_a_token_with_more_rights_than_their_own(app: FastAPI, reader: Client) -> None:
    page = reader.post("/settings/tokens", data={"name": "p", "role": "owner", "days": "7"}).text
    found = re.search(r'id="token" readonly value="(endbell_[^"]+)"', page)
    assert found is not None
    program = Client(app)
    program.headers["authorization"] = f"Bearer {found[1]}"
    assert program.get("/api/v1/me").json()["role"] == "reader"
