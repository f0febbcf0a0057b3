"""Coming in: the first start, the sign-in and what slows a guesser down, the sign-out."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from argon2.exceptions import VerifyMismatchError
from fastapi import FastAPI
from starlette.testclient import TestClient

from endbell.store.accounts import account_named, all_accounts, logged, set_closed
from endbell.store.sessions import hashed, sessions_of
from endbell.store.tries import FREE, FREE_OF_ADDRESS, LONGEST, delay
from endbell.web.app import create_app
from endbell.web.desk import Desk
from endbell.web.passwords import PasswordRefused, Passwords, check_password
from endbell.web.settings import HashCost, Settings

from .conftest import HERE, Client
from .running import CHEAP, NAMES, PASSWORD

TOKEN = re.compile(r'name="csrf" value="([0-9a-f]+)"')


def token_on(page: str) -> str:
    found = TOKEN.search(page)
    assert found is not None
    return found[1]


def enter(client: TestClient, name: str, password: str, next: str = "/settings") -> int:
    """Sign in as a person does; the status of the answer, redirections not followed."""
    token = token_on(client.get("/login").text)
    return client.post(
        "/login",
        data={"csrf": token, "name": name, "password": password, "next": next},
        follow_redirects=False,
    ).status_code


# ---- the first start


@pytest.fixture
def fresh(tmp_path: Path) -> FastAPI:
    """A workbench in which nobody has an account."""
    return create_app(Settings(data=tmp_path / "new", hash_cost=CHEAP))


def first(client: TestClient, code: str, password: str = PASSWORD) -> int:
    token = token_on(client.get("/setup").text)
    return client.post(
        "/setup",
        data={"csrf": token, "code": code, "name": "Olive", "password": password},
        follow_redirects=False,
    ).status_code


def test_the_first_account_takes_the_code_that_was_printed_and_is_an_owner(fresh: FastAPI) -> None:
    client, desk = Client(fresh), fresh.state.desk
    assert client.get("/").url.path == "/setup"
    assert first(client, "00000000" if desk.setup_code != "00000000" else "1") == 422
    assert first(client, desk.setup_code) == 303
    assert [account.role for account in all_accounts(desk.db)] == ["owner"]
    assert client.get("/settings").status_code == 200


def test_there_is_no_second_first_start(fresh: FastAPI) -> None:
    client, desk = Client(fresh), fresh.state.desk
    token = token_on(client.get("/setup").text)
    assert first(client, desk.setup_code) == 303
    other = Client(fresh)
    other.cookies.set("endbell-visit", "v" * 43, domain="127.0.0.1")
    other.prove("v" * 43)
    body = {"csrf": token, "code": desk.setup_code, "name": "Eve", "password": PASSWORD}
    assert other.post("/setup", data=body, follow_redirects=False).headers["location"] == "/login"
    assert len(all_accounts(desk.db)) == 1


def test_the_first_start_is_made_on_the_machine_itself(fresh: FastAPI) -> None:
    away = TestClient(fresh, base_url=HERE, client=("192.168.1.77", 4000))
    assert away.get("/setup").status_code == 403


def test_guessing_the_code_of_the_first_start_has_to_wait(fresh: FastAPI) -> None:
    client, desk = Client(fresh), fresh.state.desk
    for _ in range(FREE + 1):
        assert first(client, "wrong") == 422
    assert first(client, desk.setup_code) == 422
    assert all_accounts(desk.db) == ()


# ---- the sign-in


def test_name_and_password_let_in_and_the_name_may_be_spelt_anyhow(nobody: Client) -> None:
    assert enter(nobody, f"  {NAMES['owner'].upper()} ", PASSWORD) == 303
    assert nobody.get("/accounts").status_code == 200


def test_a_wrong_password_and_a_wrong_name_are_answered_alike(
    signed_in: Callable[[str], Client], desk: Desk
) -> None:
    closed = account_named(desk.db, NAMES["reader"])
    assert closed is not None
    set_closed(desk.db, closed.id, True, by="test")
    answers = set[str]()
    for name, password in (
        (NAMES["technician"], "not the password"),
        ("Nobody At All", PASSWORD),
        (NAMES["reader"], PASSWORD),
    ):
        client = signed_in("")
        token = token_on(client.get("/login").text)
        body = {"csrf": token, "name": name, "password": password}
        answer = client.post("/login", data=body)
        assert answer.status_code == 403
        answers.add(re.sub(r"(value|csrf|X-CSRF-Token)[^>]*", "", answer.text.replace(name, "")))
    assert len(answers) == 1


def test_a_name_that_nobody_has_costs_as_much_to_check(monkeypatch: pytest.MonkeyPatch) -> None:
    passwords = Passwords(CHEAP)
    kept = passwords.made("something else")
    checked: list[str] = []

    class Counting:
        def verify(self, kept: str, password: str) -> bool:
            checked.append(kept.rsplit("$", 2)[0])
            raise VerifyMismatchError

    monkeypatch.setattr(passwords, "_hasher", Counting())
    assert not passwords.fits("guess", kept)
    assert not passwords.fits("guess", "")
    assert len(checked) == 2
    assert len(set(checked)) == 1


def test_after_some_failures_even_the_right_password_has_to_wait(
    nobody: Client, desk: Desk
) -> None:
    start = desk.now()
    desk.clock = lambda: start
    for _ in range(FREE + 1):
        assert enter(nobody, NAMES["owner"], "wrong") == 403
    assert enter(nobody, NAMES["owner"], PASSWORD) == 429
    desk.clock = lambda: start + delay(FREE + 1, FREE) + timedelta(seconds=1)
    assert enter(nobody, NAMES["owner"], PASSWORD) == 303


def test_the_wait_is_told_and_is_the_same_for_a_name_that_nobody_has(
    nobody: Client, desk: Desk
) -> None:
    start = desk.now()
    desk.clock = lambda: start
    for _ in range(FREE + 3):
        enter(nobody, "Nobody At All", "wrong")
    token = token_on(nobody.get("/login").text)
    body = {"csrf": token, "name": "Nobody At All", "password": "x"}
    answer = nobody.post("/login", data=body)
    assert answer.status_code == 429
    assert 0 < int(answer.headers["retry-after"]) <= LONGEST.total_seconds()


def test_an_address_that_tries_many_names_has_to_wait(nobody: Client, desk: Desk) -> None:
    start = desk.now()
    desk.clock = lambda: start
    for n in range(FREE_OF_ADDRESS + 1):
        assert enter(nobody, f"name {n}", "wrong") == 403
    assert enter(nobody, NAMES["owner"], PASSWORD) == 429


def test_the_wait_doubles_and_has_an_end() -> None:
    waits = [delay(n, FREE) for n in range(40)]
    assert waits[: FREE + 1] == [timedelta()] * (FREE + 1)
    assert waits[FREE + 1 : FREE + 4] == [timedelta(seconds=s) for s in (1, 2, 4)]
    assert waits[-1] == LONGEST
    assert waits == sorted(waits)


def test_where_one_wanted_to_go_is_a_page_of_ours(nobody: Client) -> None:
    token = token_on(nobody.get("/login?next=//elsewhere.example/x").text)
    for bad in ("//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example", "/\n"):
        body = {"csrf": token, "name": NAMES["reader"], "password": PASSWORD, "next": bad}
        answer = nobody.post("/login", data=body, follow_redirects=False)
        assert answer.headers["location"] == "/"
        nobody.cookies.clear()
        token = token_on(nobody.get("/login").text)


def test_a_page_asked_for_without_signing_in_comes_afterwards(nobody: Client) -> None:
    answer = nobody.get("/settings?done=pages")
    assert answer.url.path == "/login"
    assert 'value="/settings?done=pages"' in answer.text


def test_a_hash_of_another_cost_is_made_anew_at_the_next_sign_in(
    nobody: Client, desk: Desk
) -> None:
    desk.passwords = Passwords(HashCost(2, 16, 1))
    before = account_named(desk.db, NAMES["owner"])
    assert enter(nobody, NAMES["owner"], PASSWORD) == 303
    after = account_named(desk.db, NAMES["owner"])
    assert before is not None and after is not None
    assert before.password != after.password
    assert "m=16,t=2,p=1" in after.password


# ---- sessions


def test_signing_in_ends_the_session_before_and_begins_one_with_another_secret(
    nobody: Client, desk: Desk
) -> None:
    enter(nobody, NAMES["owner"], PASSWORD)
    first_secret = nobody.cookies["endbell"]
    account = account_named(desk.db, NAMES["owner"])
    assert account is not None
    again = Client(nobody.app, None)  # type: ignore[arg-type]
    again.cookies.set("endbell-visit", "v" * 43, domain="127.0.0.1")
    again.cookies.set("endbell", first_secret, domain="127.0.0.1")
    again.prove(first_secret)
    body = {"name": NAMES["owner"], "password": PASSWORD}
    assert again.post("/login", data=body, follow_redirects=False).status_code == 303
    assert again.cookies.get("endbell", domain="127.0.0.1") != first_secret
    assert nobody.get("/settings", follow_redirects=False).status_code == 303
    assert len(sessions_of(desk.db, account.id)) == 1


def test_the_database_holds_no_secret_that_opens_anything(nobody: Client, desk: Desk) -> None:
    enter(nobody, NAMES["owner"], PASSWORD)
    secret = nobody.cookies["endbell"]
    raw = b"".join(path.read_bytes() for path in desk.db.folder.glob("endbell.sqlite*"))
    assert hashed(secret).encode() in raw
    assert secret.encode() not in raw
    assert PASSWORD.encode() not in raw
    assert b"$argon2id$" in raw


def test_the_cookie_is_for_no_script_and_no_other_site(nobody: Client) -> None:
    token = token_on(nobody.get("/login").text)
    body = {"csrf": token, "name": NAMES["owner"], "password": PASSWORD}
    answer = nobody.post("/login", data=body, follow_redirects=False)
    cookies = {c.partition("=")[0]: c.lower() for c in answer.headers.get_list("set-cookie")}
    for name, same_site in (("endbell", "lax"), ("endbell-device", "strict")):
        assert "httponly" in cookies[name]
        assert f"samesite={same_site}" in cookies[name]
        assert "path=/" in cookies[name]
        assert "secure" not in cookies[name]


def test_behind_https_the_cookie_is_bound_to_it(tmp_path: Path) -> None:
    made = create_app(Settings(data=tmp_path / "s", hash_cost=CHEAP, https=True))
    client = TestClient(made, base_url="https://127.0.0.1", client=("127.0.0.1", 1))
    desk = made.state.desk
    assert first(client, desk.setup_code) == 303
    assert client.cookies.get("__Host-endbell")
    answer = client.get("/settings")
    assert answer.status_code == 200
    assert "max-age=" in answer.headers["strict-transport-security"]


def test_a_session_ends_when_nothing_was_asked_for_long(client: Client, desk: Desk) -> None:
    start = desk.now()
    assert client.get("/settings").status_code == 200
    desk.clock = lambda: start + desk.settings.idle - timedelta(minutes=5)
    assert client.get("/settings").status_code == 200
    desk.clock = lambda: start + 2 * desk.settings.idle - timedelta(minutes=10)
    assert client.get("/settings").status_code == 200
    desk.clock = lambda: start + 4 * desk.settings.idle
    assert client.get("/settings", follow_redirects=False).status_code == 303


def test_a_session_ends_some_day_in_any_case(client: Client, desk: Desk) -> None:
    start, step = desk.now(), desk.settings.idle / 2
    for n in range(1, int(desk.settings.absolute / step)):
        desk.clock = lambda n=n: start + n * step
        assert client.get("/settings").status_code == 200
    desk.clock = lambda: start + desk.settings.absolute + timedelta(seconds=1)
    assert client.get("/settings", follow_redirects=False).status_code == 303


def test_after_signing_out_the_cookie_opens_nothing(client: Client, desk: Desk) -> None:
    secret = client.cookies["endbell"]
    assert client.post("/logout", follow_redirects=False).status_code == 303
    assert "endbell" not in client.cookies
    client.cookies.set("endbell", secret, domain="127.0.0.1")
    assert client.get("/settings", follow_redirects=False).status_code == 303


def test_what_concerns_the_safety_of_accounts_is_logged(nobody: Client, desk: Desk) -> None:
    enter(nobody, NAMES["owner"], "wrong")
    enter(nobody, NAMES["owner"], PASSWORD)
    lines = logged(desk.db)
    assert [line.what for line in lines[:2]] == ["signed-in", "sign-in-failed"]
    assert lines[0].address == "127.0.0.1"
    assert all("wrong" not in " ".join(map(str, line)) for line in lines)


# ---- passwords


@pytest.mark.parametrize(
    "good", ["two rivers run", "ärger über öl", "x9!kP q2#vL w", "a" * 4 + "bcd" * 84]
)
def test_any_long_password_will_do_whatever_its_letters(good: str) -> None:
    check_password(good, "Olive Owner")


@pytest.mark.parametrize(
    "bad",
    [
        "",
        "short words",
        "Password1234",
        "QWERTYUIOP12",
        "aaaaaaaaaaaaaaaa",
        "Olive Owner 123",
        "x" * 100 + "yz!" * 60,
    ],
)
def test_a_short_common_or_enormous_password_is_refused_with_a_reason(bad: str) -> None:
    with pytest.raises(PasswordRefused, match="accepted"):
        check_password(bad, "Olive Owner")


def test_nothing_of_a_long_password_is_cut_off() -> None:
    passwords = Passwords(CHEAP)
    long = "a long sentence about an amp " * 8
    kept = passwords.made(long)
    assert passwords.fits(long, kept)
    assert not passwords.fits(long[:-1], kept)
    assert not passwords.fits(long[:72], kept)


def test_the_cost_of_a_hash_is_that_of_the_recommendations() -> None:
    cost = Settings(data=Path("x")).hash_cost
    assert cost.memory_kib >= 19 * 1024
    assert cost.passes >= 2
    assert replace(cost).lanes >= 1
