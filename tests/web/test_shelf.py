"""The shelf: searched, filtered, sorted, paged; many at once; strips that come by themselves."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any

import pytest
from fastapi import FastAPI

from endbell.store import By, Change, append, events_of, new_id, state_of
from endbell.web.desk import Desk
from endbell.web.routes import shelf as shelf_routes
from endbell.web.shelf_query import query_from
from endbell.web.small_strip import small_strip, time_line
from endbell.web.strips_kept import keep, kept
from endbell.web.weighed import Strip

from .conftest import Client
from .one_app import one_app
from .running import session_for

AMPS = (
    # number, model, built, whose, purpose, tags, closed, code, likeliest year, its odds
    ("TRV-0001", "lantern-20", "1964", "R. Halloran", "sell", ("estate",), False, "993-348", 1964, 0.97),
    ("TRV-0002", "lantern-20", "1958", "Mrs Quill", "buy", (), False, "992-812", 1958, 0.42),
    ("TRV-0003", "wick-6", "1957", "The long pier", "service", ("estate", "wait"), True, "995-731", 1957, 0.9),
    ("TRV-0004", "beacon-45", "1966", "R. Halloran", "sell", (), True, "", None, None),
)  # fmt: skip


def put(
    desk: Desk,
    number: str,
    model: str,
    built: str,
    whose: str,
    purpose: str,
    tags: tuple[str, ...],
    closed: bool,
    code: str,
    year: int | None,
    p: float | None,
) -> str:
    made = new_id()
    changes = [
        Change("opened", {"number": number, "purpose": purpose, "packs": ["brackwater"],
                          "claim": {"maker": "brackwater", "model": model, "built": built},
                          "intake": {"whose": whose, "why": "to be vetted"}}),
    ]  # fmt: skip
    if code:
        changes.append(
            Change(
                "mark-set",
                {"mark": new_id(), "row": {"part": "ot", "kind": "source-date-code", "text": code}},
            )
        )
    if tags:
        changes.append(Change("tags-set", {"tags": list(tags)}))
    if closed:
        changes.append(Change("closed"))
    append(desk.db, made, changes, by=By("tests"))
    if year is not None and p is not None:
        strip = Strip(
            says=f"Built in {year}",
            sure="settled" if p > 0.5 else "open",
            mode_year=year,
            p_mode_year=p,
            first_year=year,
            last_year=year,
            years=((year, p),),
            conflicts=2 if number == "TRV-0002" else 0,
        )
        keep(desk.db, state_of(desk.db, made), strip)
    return made


@pytest.fixture(scope="module")
def module_app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    really = shelf_routes.want_strips
    with one_app(tmp_path_factory.mktemp("shelf")) as made, pytest.MonkeyPatch.context() as patch:

        def want(desk: Desk, dossiers: Iterable[str]) -> None:
            """A strip that comes while a test looks would change what it sees."""
            if desk is not made.state.desk:
                really(desk, dossiers)

        patch.setattr(shelf_routes, "want_strips", want)
        made.state.ids = {amp[0]: put(made.state.desk, *amp) for amp in AMPS}
        yield made


@pytest.fixture
def ids(module_app: FastAPI) -> dict[str, str]:
    """Number -> id of a full shelf that no test changes."""
    return module_app.state.ids


@pytest.fixture
def shelf(module_app: FastAPI) -> Client:
    """Somebody before the full shelf."""
    return Client(module_app, session_for(module_app.state.desk.db, "technician"))


@pytest.fixture
def few(desk: Desk) -> dict[str, str]:
    """The same amps in a shop of this test's own."""
    return {amp[0]: put(desk, *amp) for amp in AMPS}


def shown(client: Client, **fields: str) -> list[str]:
    """The numbers that a list shows, in order."""
    answer = client.get("/dossiers", params=fields, headers={"HX-Target": "list"})
    assert answer.status_code == 200, answer.text[:300]
    assert "<html" not in answer.text
    return re.findall(r'/dossiers/\w+">(TRV-\d+|T-\d+)<', answer.text)


# ---- finding


@pytest.mark.parametrize(
    ("fields", "numbers"),
    [
        ({"q": "hallo"}, {"TRV-0001", "TRV-0004"}),
        ({"q": "99281"}, {"TRV-0002"}),
        ({"q": "993-34"}, {"TRV-0001"}),
        ({"q": "quill 1958"}, {"TRV-0002"}),
        ({"q": "nobody"}, set[str]()),
        ({"state": "open"}, {"TRV-0001", "TRV-0002"}),
        ({"state": "closed"}, {"TRV-0003", "TRV-0004"}),
        ({"purpose": "sell"}, {"TRV-0001", "TRV-0004"}),
        ({"model": "wick-6"}, {"TRV-0003"}),
        ({"tag": "estate"}, {"TRV-0001", "TRV-0003"}),
        ({"from": "1957", "to": "1958"}, {"TRV-0002", "TRV-0003"}),
        ({"told": "no"}, {"TRV-0002"}),
        ({"told": "yes"}, {"TRV-0001", "TRV-0003"}),
        ({"odd": "yes"}, {"TRV-0002"}),
        ({"odd": "no"}, {"TRV-0001", "TRV-0003"}),
        ({"odd": "perhaps"}, {a[0] for a in AMPS}),
        ({"q": "hallo", "state": "open"}, {"TRV-0001"}),
        ({"from": "abc", "state": "maybe", "sort": "no", "page": "-3"}, {a[0] for a in AMPS}),
    ],
)
def test_a_list_holds_what_was_asked_for(
    shelf: Client, fields: dict[str, str], numbers: set[str]
) -> None:
    assert set(shown(shelf, **fields)) == numbers


@pytest.mark.parametrize(
    ("sort", "down", "first"),
    [
        ("number", "no", "TRV-0001"),
        ("number", "yes", "TRV-0004"),
        ("year", "no", "TRV-0003"),
        ("sure", "yes", "TRV-0001"),
        ("whose", "no", "TRV-0002"),
    ],
)
def test_a_list_is_sorted_by_any_column(shelf: Client, sort: str, down: str, first: str) -> None:
    assert shown(shelf, sort=sort, down=down)[0] == first


def test_the_address_of_a_list_says_only_what_was_asked(shelf: Client) -> None:
    answer = shelf.get(
        "/dossiers",
        params={"q": "hallo", "state": "", "tag": "", "sort": "changed"},
        headers={"HX-Target": "list"},
    )
    assert answer.headers["HX-Push-Url"] == "/dossiers?q=hallo"


def test_an_address_read_and_written_again_is_the_same() -> None:
    for address in (
        "",
        "q=993&state=open",
        "told=no&sort=year&down=no&page=3",
        "sort=number",
        "sort=number&down=yes",
    ):
        given = dict(pair.split("=") for pair in address.split("&") if pair)
        assert query_from(given).address() == (f"/dossiers?{address}" if address else "/dossiers")
        assert query_from(query_from(given).fields()) == query_from(given)


def test_a_column_chosen_once_more_is_turned_round() -> None:
    asked = query_from({"sort": "year"})
    assert "down=no" in asked.sorted_by("year")
    assert "down" not in asked.sorted_by("claim")
    assert "page" not in query_from({"page": "4"}).sorted_by("year")


def test_a_row_says_where_the_words_were_found(shelf: Client) -> None:
    assert shown(shelf, q="9281") == []  # the middle of a code is no beginning
    answer = shelf.get("/dossiers", params={"q": "992"})
    assert "ot: 992-812" in answer.text


def test_nothing_found_says_what_would_find(shelf: Client) -> None:
    page = shelf.get("/dossiers", params={"q": "zebra"}).text
    assert "Nothing on the shelf is like that" in page
    assert 'href="/dossiers">Show all' in page


def test_an_empty_shelf_says_what_to_do(client: Client, reader: Client) -> None:
    page = client.get("/dossiers").text
    assert "Book in the first amp" in page
    assert "<table" not in page
    assert "Book in the first amp" not in reader.get("/dossiers").text


def test_a_long_list_is_leafed_through(desk: Desk, client: Client) -> None:
    for n in range(53):
        append(desk.db, new_id(), [Change("opened", {"number": f"T-{n:02d}"})], by=By("tests"))
    first, second = shown(client, sort="number"), shown(client, sort="number", page="2")
    assert (len(first), len(second)) == (50, 3)
    assert first[0], second[-1] == ("T-00", "T-52")
    assert "51–53 of 53" in client.get("/dossiers", params={"page": "2"}).text
    assert "The list ends before page 9" in client.get("/dossiers", params={"page": "9"}).text


# ---- strips


def test_a_row_shows_its_strip_on_the_lists_own_time_line(shelf: Client) -> None:
    page = shelf.get("/dossiers", params={"state": "open"}).text
    assert "Built in 1964" in page
    assert page.count('class="small-strip"') == 2
    assert "<span>1950</span><span>1970</span>" in page


def test_a_year_is_drawn_where_it_belongs() -> None:
    svg = small_strip([(1961, 0.5), (1963, 0.5), (1964, 0.001)], (1960, 1970))
    bars = re.findall(r'd="([^"]+)" class="s-year"|class="s-year" d="([^"]+)"', svg)
    assert re.findall(r"M([\d.]+) ", "".join(bars[0])) == ["3.25", "9.25"]
    assert time_line([[(1961, 0.9), (1999, 0.001)], []]) == (1960, 1970)
    assert time_line([]) == (1950, 1960)


def test_a_dossier_without_a_strip_says_so_and_is_weighed_behind(
    desk: Desk, client: Client
) -> None:
    made = put(
        desk, "TRV-0009", "lantern-20", "1964", "x", "sell", (), False, "993-348", None, None
    )
    page = client.get("/dossiers").text
    assert "being weighed" in page
    asked = re.search(r'hx-get="(/dossiers/strips[^"]+)"', page)
    assert asked is not None
    assert made in asked[1]
    for _ in range(400):
        answer = client.get(asked[1].replace("&amp;", "&"))
        if f'id="strip-{made}"' in answer.text:
            break
    assert 'hx-swap-oob="true"' in answer.text
    assert "small-strip" in answer.text
    assert "hx-get" not in answer.text  # nothing left to ask for
    assert kept(desk.db, made) is not None


def test_a_strip_of_an_earlier_version_is_shown_as_such(desk: Desk, client: Client) -> None:
    made = put(desk, *AMPS[0])
    append(desk.db, made, [Change("note-set", {"note": "x"})], by=By("tests"))
    assert "being weighed anew" in client.get("/dossiers").text


# ---- many at once


def act(client: Client, action: str, ids: list[str], **more: Any) -> Any:
    return client.post("/dossiers/bulk", data={"action": action, "id": ids, **more})


def test_many_are_tagged_and_untagged_in_one_go(
    desk: Desk, client: Client, few: dict[str, str]
) -> None:
    both = [few["TRV-0001"], few["TRV-0002"]]
    assert act(client, "tag", both, tag=" shop  floor ").status_code == 200
    assert [state_of(desk.db, one).tags for one in both] == [
        ("estate", "shop floor"),
        ("shop floor",),
    ]
    act(client, "untag", both, tag="estate")
    assert [state_of(desk.db, one).tags for one in both] == [("shop floor",), ("shop floor",)]
    assert len(events_of(desk.db, both[1])) == 3  # what had no such tag was left alone


def test_a_tag_does_not_make_a_strip_old(desk: Desk, client: Client, few: dict[str, str]) -> None:
    act(client, "tag", [few["TRV-0001"]], tag="x")
    page = client.get("/dossiers", params={"q": "TRV-0001"}).text
    assert "Built in 1964" in page
    assert "anew" not in page


def test_all_that_a_search_finds_are_closed_together(
    desk: Desk, client: Client, few: dict[str, str]
) -> None:
    answer = act(client, "close", [few["TRV-0002"]], every="yes", query="q=halloran")
    assert answer.url.query == b"q=halloran"
    assert {n: state_of(desk.db, one).closed for n, one in few.items()} == {
        "TRV-0001": True, "TRV-0002": False, "TRV-0003": True, "TRV-0004": True,
    }  # fmt: skip
    act(client, "reopen", list(few.values()))
    assert not any(state_of(desk.db, one).closed for one in few.values())


def test_the_same_action_sent_twice_is_recorded_once(
    desk: Desk, client: Client, few: dict[str, str]
) -> None:
    one = few["TRV-0002"]
    for _ in range(2):
        act(client, "close", [one], key="01HYYYYYYYYYYYYYYYYYYYYYYY")
    assert [e.kind for e in events_of(desk.db, one)].count("closed") == 1


def test_a_pack_of_the_shops_is_put_in_force_for_many(
    desk: Desk, client: Client, few: dict[str, str]
) -> None:
    client.post("/packs/new", data={"pack": "shop", "builds_on": "brackwater"})
    ids = [few["TRV-0001"], few["TRV-0002"]]
    assert act(client, "use-pack", ids, pack="shop").status_code == 200
    assert [state_of(desk.db, one).packs for one in ids] == [("brackwater", "shop")] * 2
    act(client, "use-pack", ids, pack="shop")
    assert [state_of(desk.db, one).packs for one in ids] == [("brackwater", "shop")] * 2
    assert act(client, "use-pack", ids, pack="brackwater").status_code == 404


def test_the_tags_of_those_picked_are_one_document(client: Client, few: dict[str, str]) -> None:
    answer = client.post("/dossiers/tags.pdf", data={"id": list(few.values())[:3]})
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF")
    assert len(re.findall(rb"/Type ?/Page\b", answer.content)) == 3


@pytest.mark.parametrize(
    ("action", "data", "status"),
    [
        ("tag", {"id": ["x"], "tag": ""}, 422),
        ("tag", {"id": ["x"], "tag": "a" * 81}, 422),
        ("close", {"id": []}, 422),
        ("close", {"id": ["01HZZZZZZZZZZZZZZZZZZZZZZZ"]}, 404),
        ("burn", {"id": ["x"]}, 422),
    ],
)
def test_what_can_not_be_done_is_said(
    client: Client, action: str, data: dict[str, Any], status: int
) -> None:
    assert act(client, action, data.pop("id"), **data).status_code == status


def test_a_reader_looks_and_changes_nothing(
    desk: Desk, reader: Client, few: dict[str, str]
) -> None:
    page = reader.get("/dossiers").text
    assert 'value="close"' not in page
    assert act(reader, "close", [few["TRV-0001"]]).status_code == 403
    assert not state_of(desk.db, few["TRV-0001"]).closed


def test_nobody_sees_the_shelf(nobody: Client) -> None:
    assert nobody.get("/dossiers", follow_redirects=False).status_code == 303
    assert nobody.post(
        "/dossiers/bulk", data={"action": "close"}, follow_redirects=False
    ).status_code in (303, 401, 403)


def test_what_was_typed_is_shown_as_typed(desk: Desk, client: Client) -> None:
    nasty = '<img src=x onerror=alert(1)>"'
    put(desk, "TRV-0666", nasty, nasty, nasty, "sell", (nasty,), False, nasty, 1964, 0.9)
    page = client.get("/dossiers", params={"q": "onerror"}).text
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page
