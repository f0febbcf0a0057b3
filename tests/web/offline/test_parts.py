"""The parts of the outbox, each by itself, run in the browser; and an address without https."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from ..running import Running
from .rig import Phone, all_sent, bench, enter


@pytest.fixture(scope="module")
def parts(browser: Browser, server: Running) -> Iterator[Page]:
    """A page with all parts, nobody signed in, nothing to be sent."""
    context = browser.new_context(base_url=server.address)
    page = context.new_page()
    page.goto("/offline/unsent")
    yield page
    context.close()


def test_names_made_in_a_row_sort_as_they_were_made_even_if_the_clock_goes_back(
    parts: Page,
) -> None:
    made = parts.evaluate(
        """() => [...Array(500)].map((_, n) => endbell.ulid(1764000000000 - (n % 7) * 1000))"""
    )
    assert made == sorted(made)
    assert len(set(made)) == 500
    assert all(
        len(name) == 26 and set(name) <= set("0123456789ABCDEFGHJKMNPQRSTVWXYZ") for name in made
    )


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ({"status": 200, "echo": "K"}, "there"),
        ({"status": 204, "echo": "K"}, "there"),
        ({"status": 200, "echo": None}, "later"),  # not the workbench: a gate page
        ({"status": 200, "echo": "K", "path": "/login"}, "signed"),
        ({"status": 0, "echo": None}, "later"),
        ({"status": 401}, "signed"),
        ({"status": 403}, "refused"),
        ({"status": 404}, "refused"),
        ({"status": 409}, "refused"),
        ({"status": 413}, "refused"),
        ({"status": 422}, "refused"),
        ({"status": 408}, "later"),
        ({"status": 429}, "later"),
        ({"status": 500}, "fault"),
        ({"status": 503}, "later"),
        ({"status": 507}, "later"),  # the disk is full: room may be made
        (
            {"status": 200, "echo": "K", "type": "application/json", "text": '{"refused": ["a"]}'},
            "refused",
        ),
        (
            {"status": 200, "echo": "K", "type": "application/json", "text": '{"refused": []}'},
            "there",
        ),
    ],
)
def test_what_an_answer_means(parts: Page, said: dict[str, Any], kind: str) -> None:
    asked = {"path": "/dossiers/X/marks", "key": "K", **said}
    assert parts.evaluate("asked => endbell.answer.kind(asked)", asked) == kind


@pytest.mark.parametrize(
    ("text", "type", "sentence"),
    [
        (
            '{"error": {"found": "a mark on no part", "accepted": "the part it sits on"}}',
            "application/json",
            "a mark on no part; what would do: the part it sits on",
        ),
        (
            '<p class="refused" role="alert"><b>No.</b>  Too\nlarge.</p>',
            "text/html",
            "No. Too large.",
        ),
        ("", "text/html", "the server refused it (422)"),
        ("plain words", "text/plain", "plain words"),
    ],
)
def test_the_sentence_of_a_refusal(parts: Page, text: str, type: str, sentence: str) -> None:
    told = parts.evaluate(
        "([text, type]) => endbell.answer.sentence(text, type, 422)", [text, type]
    )
    assert told == sentence


@pytest.mark.parametrize(
    ("asked", "how"),
    [
        ({"path": "/dossiers", "mode": "navigate"}, "page"),
        ({"path": "/dossiers/01K0000000000000000000000A", "mode": "navigate"}, "page"),
        ({"path": "/dossiers/01K0000000000000000000000A/spots/ot", "htmx": True}, "piece"),
        ({"path": "/dossiers/01K0000000000000000000000A/events"}, "pass"),
        ({"path": "/dossiers/01K0000000000000000000000A/what-if", "htmx": True}, "pass"),
        ({"path": "/dossiers/01K0000000000000000000000A/tag.pdf"}, "pass"),
        ({"path": "/settings", "mode": "navigate"}, "other-page"),
        ({"path": "/s/secret", "mode": "navigate"}, "other-page"),
        ({"path": "/logout", "method": "POST"}, "leave"),
        ({"path": "/dossiers/01K0000000000000000000000A/marks", "method": "POST"}, "pass"),
        ({"path": "/api/v1/dossiers"}, "pass"),
        ({"path": "/photos/" + "a" * 64}, "pass"),
        ({"path": "/photos/" + "a" * 64 + "/thumb"}, "thumb"),
        ({"path": "/static/0123/app.css"}, "asset"),
    ],
)
def test_what_the_service_worker_keeps(parts: Page, asked: dict[str, Any], how: str) -> None:
    whole = {"method": "GET", "mode": "cors", "htmx": False, "ahead": False, **asked}
    assert parts.evaluate("asked => endbell.rules.how(asked)", whole) == how


def entry(key: str, **more: Any) -> dict[str, Any]:
    """An entry as the outbox has it."""
    return {"key": key, "state": "waiting", "who": "me", "makes": [], "needs": [], **more}


@pytest.mark.parametrize(
    ("entries", "first"),
    [
        ([entry("a"), entry("b")], "a"),
        ([entry("a", state="aside"), entry("b")], "b"),
        ([entry("a", state="aside", makes=["amp"]), entry("b", needs=["amp"]), entry("c")], "c"),
        ([entry("a", makes=["amp"]), entry("b", needs=["amp"])], "a"),
        ([entry("a", who="other"), entry("b")], "b"),
        ([entry("a", who="other", makes=["m"]), entry("b", needs=["m"])], None),
        ([entry("a", who="")], "a"),
        ([], None),
    ],
)
def test_which_entry_goes_next(parts: Page, entries: list[Any], first: str | None) -> None:
    found = parts.evaluate(
        "entries => endbell.send.nextOf(entries, 'me', new Set())?.key ?? null", entries
    )
    assert found == first


@pytest.mark.parametrize(
    ("now", "text"),
    [
        ({"entries": []}, "all sent"),
        ({"entries": [], "online": False}, "all sent · no connection"),
        ({"entries": [entry("a"), entry("b"), entry("c")]}, "3 not sent yet"),
        ({"entries": [entry("a", state="aside")]}, "1 needs a look"),
        (
            {"entries": [entry("a"), entry("b", who="other")]},
            "1 not sent yet · 1 of another account",
        ),
        (
            {"entries": [entry("a")], "account": None, "ended": "signed"},
            "1 not sent yet · sign in to send",
        ),
        (
            {
                "entries": [entry("a")],
                "wait": {"sentence": "the disk is full; what would do: room"},
            },
            "1 not sent yet · the disk is full",
        ),
    ],
)
def test_what_the_line_in_the_header_says(parts: Page, now: dict[str, Any], text: str) -> None:
    whole = {"account": {"id": "me"}, "wait": None, "ended": "done", "online": True, **now}
    assert parts.evaluate("now => endbell.status.lineOf(now).text", whole) == text


def test_without_the_browsers_locks_one_sends_at_a_time_all_the_same(parts: Page) -> None:
    order = parts.evaluate(
        """async () => {
             Object.defineProperty(navigator, "locks", { value: undefined, configurable: true });
             const said = [];
             const work = (name) => async (mine) => {
               said.push(`${name} ${mine ? "begins" : "is turned away"}`);
               if (mine) await new Promise((r) => setTimeout(r, 30));
               if (mine) said.push(`${name} ends`);
             };
             await Promise.all([
               endbell.turn(work("one")), endbell.turn(work("two")),
               endbell.turn(work("three"), { wait: false }),
             ]);
             delete navigator.locks;
             return said;
           }"""
    )
    assert "three is turned away" in order
    assert [line for line in order if not line.startswith("three")] == [
        "one begins", "one ends", "two begins", "two ends",
    ]  # fmt: skip


def test_at_an_address_without_https_entries_are_kept_and_sent_all_the_same(
    browser: Browser, tmp_path: Path
) -> None:
    """There the browser gives neither service workers nor locks, but the outbox needs neither."""
    (tmp_path / "shop").mkdir()
    with bench(tmp_path / "shop", ("--host", "bench.test")) as server:
        dossier = server.dossier()
        port = server.address.rsplit(":", 1)[1]
        local, server.address = server.address, f"http://bench.test:{port}"
        phone = Phone(browser, server, tmp_path / "profile")
        page = phone.start("--host-resolver-rules=MAP bench.test 127.0.0.1")
        phone.sign_in()
        page.goto(f"/dossiers/{dossier}/trial")
        assert page.evaluate("[isSecureContext, !!navigator.locks, !!navigator.serviceWorker]") == [
            False, False, False,
        ]  # fmt: skip
        page.context.set_offline(True)
        for text in ("one", "two", "three"):
            enter(page, text)
        expect(page.locator("#outbox-line")).to_have_text("3 not sent yet · no connection")
        page.close()
        page = page.context.new_page()
        page.context.set_offline(False)
        page.goto(f"/dossiers/{dossier}/trial")
        all_sent(page)
        phone.close()
        server.address = local
        assert server.texts(dossier) == ["one", "two", "three"]
