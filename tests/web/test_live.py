"""After an entry: the strip, the full verdict, and everybody who has the dossier open."""

from __future__ import annotations

import asyncio
import json
import re
import tomllib
from collections.abc import Iterator
from datetime import date
from html import unescape

import pytest
from fastapi import FastAPI

from endbell.batch.code import made_by
from endbell.batch.packs import Packs, Settings
from endbell.chronology import brief, weigh
from endbell.dossier import parse_dossier
from endbell.dossier.load import dossier_of
from endbell.report import percent
from endbell.store import By, Change, append, new_id, state_of
from endbell.store.sessions import end_session
from endbell.store.strips import strips_behind
from endbell.web import live
from endbell.web.as_file import file_of
from endbell.web.desk import Desk
from endbell.web.hub import Viewer
from endbell.web.routes import live as routes
from endbell.web.sessions import person_of
from endbell.web.strips_fill import BATCH, fill_once
from endbell.web.strips_kept import kept
from endbell.web.weighed import signed

from .conftest import Client
from .one_app import a_dossier, one_app
from .running import session_for

PACKS = Packs(Settings())
BY = By("tests", "test")


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """One workbench for this file."""
    with one_app(tmp_path_factory.mktemp("shop")) as made:
        yield made


@pytest.fixture
def dossier(desk: Desk) -> str:
    """A dossier of its own."""
    return a_dossier(desk)


def entered(desk: Desk, dossier: str, **row: object) -> str:
    """A mark recorded in a dossier; gives its id."""
    mark = new_id()
    append(desk.db, dossier, [Change("mark-set", {"mark": mark, "row": row})], by=BY)
    return mark


def engine(desk: Desk, dossier: str) -> tuple[object, object]:
    """The dossier as the engine is given it, and its packs."""
    state = state_of(desk.db, dossier)
    day = date.fromisoformat(live.day_of(state))
    made = dossier_of(state.form(), {}, PACKS.reference, today=day)
    return made, PACKS.reference(made.packs)


def plain(html: str) -> str:
    """The text of a page, blanks run together."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", html)).split())


def test_the_strip_of_a_dossier_is_the_engines(client: Client, desk: Desk, dossier: str) -> None:
    said = plain(client.get(f"/dossiers/{dossier}/strip").text)
    found = brief(*engine(desk, dossier))
    assert found.claim is not None
    assert found.claim.p is not None
    assert f"claim {percent(found.claim.p)}, weakest: {found.claim.weakest}" in said
    for year, p in found.build.years.items():
        assert f"{year} {percent(p)}" in said, "the odds of every year can be reached"


def test_words_come_before_numbers_and_numbers_before_the_curve(
    client: Client, dossier: str
) -> None:
    html = client.get(f"/dossiers/{dossier}/strip").text
    places = [html.index(f'class="{name}"') for name in ("st-says", "st-numbers", "st-curve")]
    assert places == sorted(places)


def test_cannot_tell_is_set_as_a_certainty_is(client: Client, desk: Desk, dossier: str) -> None:
    sure = client.get(f"/dossiers/{dossier}/strip").text
    bare = new_id()
    opened = Change("opened", {"number": f"TRV-{bare}", "packs": ["brackwater"]})
    append(desk.db, bare, [opened], by=BY)
    entered(desk, bare, part="ot", kind="source-date-code", text="993-3?8")
    open_ = client.get(f"/dossiers/{bare}/strip").text
    says = [re.search(r'<p class="([^"]*)">', html) for html in (sure, open_)]
    assert "Cannot tell" in plain(open_)
    assert says[0] is not None
    assert says[1] is not None
    assert says[0][1] == says[1][1] == "st-says"


def test_the_time_line_has_a_row_for_every_mark_with_its_entry_and_its_photos(
    client: Client, desk: Desk, dossier: str
) -> None:
    state = state_of(desk.db, dossier)
    mark = state.standing[0].id
    photo = {"photo": "a" * 64, "name": "ot.jpg", "type": "image/jpeg", "bytes": 10, "mark": mark}
    append(desk.db, dossier, [Change("photo-added", photo)], by=BY)
    html = client.get(f"/dossiers/{dossier}/timeline").text
    for n, row in enumerate(state.standing, start=1):
        assert f'id="mark-{n}"' in html
        assert f"/spots/{row.row['part']}?mark={row.id}" in html
        assert html.count(f'href="#mark-{n}"') == 2, "once in the wide drawing, once in the narrow"
    assert f"/photos/{'a' * 64}/thumb" in html
    assert "style=" not in html, "the page's policy forbids style attributes"
    assert "<style" not in html


def test_a_page_waits_for_no_verdict_longer_than_it_must(
    client: Client, desk: Desk, dossier: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = client.get(f"/dossiers/{dossier}/timeline").text
    assert 'class="weighing" role="status" hidden' in before
    entered(desk, dossier, part="choke", kind="source-date-code", text="993-401")
    slow = asyncio.Event()
    whole = desk.weigher.verdict

    async def later(*given: object, **named: object) -> object:
        await asyncio.wait_for(slow.wait(), 1.0) if not slow.is_set() else None
        return await whole(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(desk.weigher, "verdict", later)
    monkeypatch.setattr(live, "PATIENCE", 0.0)
    during = client.get(f"/dossiers/{dossier}/timeline").text
    assert 'class="weighing" role="status">being weighed…' in during
    assert "993-348" in during, "the last verdict stays in sight"


def test_the_report_is_the_commands_page(client: Client, desk: Desk, dossier: str) -> None:
    answer = client.get(f"/dossiers/{dossier}/report")
    assert answer.status_code == 200
    assert "style-src 'sha256-" in answer.headers["content-security-policy"]
    verdict = weigh(*engine(desk, dossier))
    for sentence in verdict.words:
        assert plain(sentence.text) in plain(answer.text)


def test_the_file_is_weighed_as_the_workbench_weighs(
    client: Client, desk: Desk, dossier: str
) -> None:
    entered(desk, dossier, part="covering", kind="feature", feature="covering-colour", value="tan")
    entered(desk, dossier, part="sp-1", kind="source-date-code", text='995-3?8 "x"', note="a\nb")
    answer = client.get(f"/dossiers/{dossier}/file.toml")
    number = state_of(desk.db, dossier).number
    assert f'filename="{number}.toml"' in answer.headers["content-disposition"]
    read = parse_dossier(answer.text, PACKS.reference, today=date(1999, 1, 1))
    made, reference = engine(desk, dossier)
    found, same = brief(made, reference), brief(read, reference)  # type: ignore[arg-type]
    assert found.build.edtf == same.build.edtf
    assert found.log_evidence == same.log_evidence
    rows = tomllib.loads(answer.text)["mark"]
    assert [row["text"] for row in rows if "text" in row] == ["993-348", "992-341", '995-3?8 "x"']


def test_a_day_is_a_day_in_the_file_and_a_slip_stays_as_typed() -> None:
    form = {"id": "x", "as_of": "2026-03-02", "mark": [{"part": "ot", "on": "yesterday"}]}
    read = tomllib.loads(file_of(form))
    assert read["as_of"] == date(2026, 3, 2)
    assert read["mark"][0]["on"] == "yesterday"


def test_a_change_is_told_first_then_the_strip_then_the_verdict(desk: Desk, dossier: str) -> None:
    told: list[tuple[str, str]] = []

    async def listen() -> None:
        viewer = Viewer("a", "Ana", session="1")
        async for happened in desk.hub.events(dossier, viewer):
            if happened is not None and happened.name != "presence":
                told.append((happened.name, happened.data))
                if happened.name == "verdict":
                    return

    async def both() -> None:
        listening = asyncio.create_task(listen())
        await asyncio.sleep(0)
        strip = await live.changed(desk, dossier)
        assert strip.weighed == 2
        await asyncio.wait_for(listening, 10)

    asyncio.run(both())
    version = str(state_of(desk.db, dossier).version)
    assert [name for name, _ in told] == ["changed", "strip", "verdict"]
    assert (told[0][1], told[2][1]) == (version, version)
    assert "st-says" in told[1][1]


def test_the_strip_is_kept_for_the_shelf_as_it_was_told(desk: Desk, dossier: str) -> None:
    async def change() -> object:
        strip = await live.changed(desk, dossier)
        await live.settled(desk)
        return strip

    strip = asyncio.run(change())
    assert kept(desk.db, dossier) == strip
    assert json.loads(json.dumps(strip.as_json()))["parts"]  # type: ignore[attr-defined]


def test_strips_that_are_missing_or_old_are_brought_up_to_date(desk: Desk) -> None:
    new, old, other = (a_dossier(desk) for _ in range(3))

    async def fill() -> None:
        while await fill_once(desk):
            pass

    asyncio.run(fill())
    now = signed(made_by(), desk.packs.now())
    assert strips_behind(desk.db, now, BATCH) == ()
    first = kept(desk.db, old)
    entered(desk, old, part="choke", kind="source-date-code", text="993-401")
    assert strips_behind(desk.db, now, BATCH) == (old,)
    asyncio.run(fill())
    assert kept(desk.db, old) not in (None, first)
    assert kept(desk.db, new) == asyncio.run(live.strip_of(desk, state_of(desk.db, new)))
    # another state of the packs makes all of them old
    assert {new, old, other} <= set(strips_behind(desk.db, "0.1.0 other packs", 1000))


def test_what_was_overtaken_is_not_told(
    desk: Desk, dossier: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = state_of(desk.db, dossier)
    entered(desk, dossier, part="choke", kind="source-date-code", text="993-401")
    told: list[str] = []

    async def both() -> None:
        monkeypatch.setattr(desk.hub, "publish", lambda d, name, data: told.append(name))
        await live.changed(desk, dossier)
        told.clear()
        await live.changed(desk, dossier, old)
        await live.settled(desk)

    asyncio.run(both())
    assert "strip" not in told
    assert told.count("changed") == 0


def test_a_stream_ends_with_its_session(
    desk: Desk, dossier: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    person = person_of(desk, session_for(desk.db, "technician"))
    assert person is not None
    monkeypatch.setattr(routes, "SESSION_SECONDS", 0.0)
    monkeypatch.setattr(desk.hub, "_keep_alive", 0.01)
    state = state_of(desk.db, dossier)

    async def listen() -> list[str]:
        said: list[str] = []
        async for piece in routes._stream(desk, person, state, 0, ""):
            said.append(piece)
            if len(said) == 5:
                end_session(desk.db, person.account, person.session, by="tests")
        return said

    said = asyncio.run(asyncio.wait_for(listen(), 5))
    assert 5 <= len(said) <= 6


def test_nobody_outside_sees_any_of_it(nobody: Client, app: FastAPI, dossier: str) -> None:
    for path in ("strip", "timeline", "why", "next", "history", "events", "file.toml", "report"):
        answer = nobody.get(f"/dossiers/{dossier}/{path}", follow_redirects=False)
        assert answer.status_code in (303, 401), path


@pytest.mark.parametrize("path", ["strip", "timeline", "why", "next", "history", "events"])
def test_a_dossier_that_is_not_there_is_said_so(client: Client, path: str) -> None:
    assert client.get(f"/dossiers/nowhere/{path}").status_code == 404
