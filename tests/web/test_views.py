"""Saved views: a name for an address, one list per shop."""

from __future__ import annotations

import re

import pytest

from endbell.store import SHOP, By, Change, append, events_of
from endbell.store.events import ChangeRefused
from endbell.store.views import save_view, views_after, views_of
from endbell.web.desk import Desk

from .conftest import Client


@pytest.fixture(autouse=True)
def _some_dossier(dossier: str) -> None:
    """A shelf with something on it."""


def save(client: Client, name: str, query: str) -> str:
    answer = client.post("/views", data={"name": name, "query": query})
    assert answer.status_code == 200, answer.text[:300]
    return answer.text


def chips(page: str) -> dict[str, bool]:
    """The views on the page and whether each is the one that is shown."""
    nav = page[page.index('class="views"') : page.index("</nav>", page.index('class="views"'))]
    found = re.findall(r'<a class="chip" href="[^"]*"( aria-current="true")?>([^<]+)', nav)
    return {name: bool(current) for current, name in found}


def test_a_view_is_an_address_that_everybody_in_the_shop_has(
    client: Client, reader: Client, desk: Desk
) -> None:
    page = save(client, "At the bench", "?state=open&tag=bench&page=3")
    assert chips(page)["At the bench"]
    (view,) = views_of(desk.db)
    assert dict(view.query) == {"state": "open", "tag": "bench"}
    answer = reader.get(f"/views/{view.id}")
    assert answer.url.query == b"state=open&tag=bench"
    assert chips(answer.text) == {
        "all": False,
        "open": False,
        "cannot tell": False,
        "in conflict": False,
        "At the bench": True,
    }


def test_a_view_kept_again_under_its_name_takes_the_place_of_the_old(
    client: Client, desk: Desk
) -> None:
    save(client, "Mine", "state=open")
    save(client, "mine", "state=closed")
    (view,) = views_of(desk.db)
    assert (view.name, dict(view.query)) == ("mine", {"state": "closed"})


def test_a_view_removed_is_gone_and_can_be_brought_back(client: Client, desk: Desk) -> None:
    save(client, "Mine", "state=open")
    (view,) = views_of(desk.db)
    assert client.post(f"/views/{view.id}/remove").status_code == 200
    assert views_of(desk.db) == ()
    assert client.get(f"/views/{view.id}").status_code == 404
    append(desk.db, SHOP, [Change("undone", {"n": 2})], by=By("me"))
    assert views_of(desk.db) == (view,)


def test_views_are_listed_by_name(desk: Desk) -> None:
    for name in ("later", "Early", "middle"):
        append(desk.db, SHOP, [save_view(views_of(desk.db), name, {"q": name})], by=By("me"))
    assert [view.name for view in views_after(events_of(desk.db, SHOP))] == [
        "Early",
        "later",
        "middle",
    ]


@pytest.mark.parametrize("name", ["", "   ", "x" * 61])
def test_a_view_has_a_name_that_fits(name: str, client: Client) -> None:
    with pytest.raises(ChangeRefused):
        save_view((), name, {})
    assert client.post("/views", data={"name": name, "query": ""}).status_code == 422


def test_only_what_narrows_or_sorts_a_list_is_kept(client: Client, desk: Desk) -> None:
    save(client, "Odd", "state=open&csrf=secret&next=//elsewhere&sort=year")
    (view,) = views_of(desk.db)
    assert dict(view.query) == {"state": "open", "sort": "year"}


def test_a_reader_uses_views_and_keeps_none(reader: Client, desk: Desk) -> None:
    assert reader.post("/views", data={"name": "Mine", "query": "state=open"}).status_code == 403
    assert "Keep this view" not in reader.get("/dossiers").text
    assert views_of(desk.db) == ()
