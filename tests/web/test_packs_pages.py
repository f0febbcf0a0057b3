"""Reference, leafed through: every row says where it is from, every thing has an address."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

import pytest
from fastapi import FastAPI

from .conftest import Client
from .one_app import one_app
from .running import session_for


@pytest.fixture(scope="module")
def module_app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    with one_app(tmp_path_factory.mktemp("packs")) as made:
        yield made


@pytest.fixture
def reader(module_app: FastAPI) -> Client:
    return Client(module_app, session_for(module_app.state.desk.db, "reader"))


@pytest.fixture
def client(module_app: FastAPI) -> Client:
    return Client(module_app, session_for(module_app.state.desk.db, "technician"))


def text_of(page: str) -> str:
    """A page's words, tags and white space taken away."""
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def get(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, answer.text[:400]
    return answer.text


def test_shipped_packs_stand_apart_from_the_shops_own(reader: Client) -> None:
    words = text_of(get(reader, "/packs"))
    own, shipped = words.index("The shop’s own"), words.index("Shipped")
    assert own < words.index("None yet") < shipped < words.index("Brackwater Sound Works")
    assert "shipped, always applies" in words


def test_every_page_of_a_pack_that_a_page_leads_to_is_there(reader: Client) -> None:
    seen: set[str] = set()
    waiting = ["/packs"]
    while waiting and len(seen) < 90:
        address = waiting.pop(0)
        page = get(reader, address)
        seen.add(address)
        for link in re.findall(r'href="(/packs[^"#]*)', page):
            link = link.replace("&amp;", "&")
            if link not in seen and link not in waiting:
                waiting.append(link)
    assert "/packs/brackwater/models/wick-6" in seen
    assert "/packs/brackwater/features/covering-colour" in seen
    assert "/packs/sources/992" in seen
    assert "/packs/common-practice/tables/assumption" in seen
    assert not [address for address in seen if "/new" in address or "/feature?" in address]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("silver thread", "/packs/brackwater/features/cloth-pattern"),
        ("knob-shape skirted", "/packs/brackwater/features/knob-shape"),
        ("992", "/packs/sources/992"),
        ("ZIP code", "/packs/standards/tables/term"),
    ],
)
def test_a_row_is_found_by_the_words_in_it(reader: Client, words: str, first: str) -> None:
    answer = reader.get("/packs", params={"q": words}, headers={"HX-Target": "found"})
    assert "<html" not in answer.text
    assert re.findall(r'href="([^"#]+)', answer.text)[0] == first


def test_words_that_no_row_has_say_so(reader: Client) -> None:
    answer = reader.get("/packs", params={"q": "chromium-plated unicorn"})
    assert "No row has “chromium-plated unicorn” in it" in answer.text


def test_a_feature_shows_its_windows_beside_its_neighbours(reader: Client) -> None:
    words = text_of(get(reader, "/packs/brackwater/features/faceplate-finish"))
    assert "cream-enamel" in words
    assert "June 1960 to February 1966" in words
    assert "invented world" in words
    neighbours = words.index("Neighbours")
    together = words.index("lettering of the faceplate changed together")
    same_part = words.index("pilot lamp same part")
    assert neighbours < together < same_part


def test_the_chart_of_a_feature_holds_what_its_table_says(reader: Client) -> None:
    spec = json.loads(get(reader, "/packs/brackwater/features/faceplate-finish/windows.json"))
    rows = spec["data"]["values"]
    own = [row for row in rows if row["of"] == "finish of the faceplate"]
    assert [(row["value"], row["from"], row["to"]) for row in own] == [
        ("cream-enamel", "1953-01-01", "1960-05-31"),
        ("brushed-steel", "1960-06-01", "1966-02-28"),
        ("black-and-silver", "1966-03-01", "1971-12-31"),
        ("brushed-steel", "1993-01-01", "1999-12-31"),
    ]
    assert all(row["source"] and row["confidence"] for row in rows)
    assert len({row["of"] for row in rows}) > 3


def test_a_model_shows_its_runs_serials_parts_and_only_its_own_values(reader: Client) -> None:
    words = text_of(get(reader, "/packs/brackwater/models/wick-6"))
    assert "2600 made" in words
    assert "May 1953 to December 1958" in words
    assert "Serial numbers" in words
    assert "Parts it left the factory with" in words
    jacks = words[words.index("number of input jacks") :]
    assert "two" in jacks[:200]
    assert "three" not in jacks[:200]


def test_a_source_number_names_its_supplier_with_the_windows(reader: Client) -> None:
    words = text_of(get(reader, "/packs/sources/992"))
    assert "992 Ninefold Controls" in words
    assert "September 1958 to June 1966" in words
    assert "0.6" in words


def test_a_number_that_nobody_knows_is_an_answer_too(client: Client, reader: Client) -> None:
    words = text_of(get(reader, "/packs/sources/998"))
    assert "998 is not named yet" in words
    assert "Name it" not in words
    assert "Name it" in text_of(get(client, "/packs/sources/998"))


@pytest.mark.parametrize(
    "address",
    [
        "/packs/nobodys",
        "/packs/brackwater/features/no-such",
        "/packs/brackwater/features/no-such/windows.json",
        "/packs/brackwater/models/no-such",
        "/packs/brackwater/tables/no-such",
        "/packs/brackwater/files/pack.toml",
        "/packs/brackwater/history",
        "/packs/sources/12345",
        "/packs/sources/abc",
        "/packs/../pyproject.toml",
        "/packs/%2e%2e/files/pack.toml",
    ],
)
def test_what_is_not_there_is_said_to_be_not_there(reader: Client, address: str) -> None:
    assert reader.get(address).status_code == 404


def test_assumptions_are_shown_with_where_they_are_from(reader: Client) -> None:
    words = text_of(get(reader, "/packs/common-practice/tables/assumption"))
    assert "level.chassis-out.setup_minutes" in words
    assert words.count("common practice, no source") > 100
