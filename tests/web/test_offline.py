"""What the server gives a browser so that it can do without it for a while."""

from __future__ import annotations

import re
from collections.abc import Callable
from io import BytesIO

import pytest
from PIL import Image

from endbell.store import new_id
from endbell.web.csrf_token import proves
from endbell.web.desk import Desk

from .conftest import Client


def test_the_service_worker_is_for_the_whole_workbench_and_asked_for_anew(nobody: Client) -> None:
    answer = nobody.get("/sw.js")
    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.headers["service-worker-allowed"] == "/"
    assert answer.headers["cache-control"] == "no-cache"


def test_every_file_that_the_service_worker_names_is_there(nobody: Client, desk: Desk) -> None:
    text = nobody.get("/sw.js").text
    assert f'"{desk.assets.stamp}"' in text
    for address in re.findall(r'"(/static/[^"]+|/offline[^"]*)"', text):
        assert nobody.get(address).status_code == 200, address
    wanted = re.search(r"ASSETS = \[(.*?)\]", text)
    assert wanted is not None
    for name in re.findall(r'"([^"]+)"', wanted[1]):
        assert desk.assets.get(name) is not None
        assert "vega" not in name


def test_a_phone_can_put_the_workbench_among_its_programs(nobody: Client) -> None:
    told = nobody.get("/manifest.webmanifest").json()
    assert (told["start_url"], told["scope"], told["display"]) == ("/dossiers", "/", "standalone")
    purposes = {icon.get("purpose") for icon in told["icons"]}
    assert {"any", "maskable"} <= purposes
    for icon in told["icons"]:
        answer = nobody.get(icon["src"])
        assert answer.status_code == 200
        assert answer.headers["content-type"] == icon["type"]
        if icon["type"] == "image/png":
            with Image.open(BytesIO(answer.content)) as image:
                assert "{}x{}".format(*image.size) == icon["sizes"]


@pytest.mark.parametrize("role", ["reader", "technician", "owner"])
def test_who_is_signed_in_gets_a_token_that_counts(
    signed_in: Callable[[str], Client], role: str
) -> None:
    client = signed_in(role)
    said = client.get("/offline/token").json()
    assert said["workbench"] is True
    assert said["name"]
    assert proves(said["csrf"], str(client.cookies.get("endbell")))


def test_nobody_gets_no_token(nobody: Client) -> None:
    answer = nobody.get("/offline/token")
    assert answer.json() == {"workbench": True, "account": None}
    assert answer.headers["cache-control"] == "no-store"


@pytest.mark.parametrize("address", ["/offline", "/offline/unsent"])
def test_the_pages_kept_from_the_beginning_bear_nobodys_name(nobody: Client, address: str) -> None:
    text = nobody.get(address).text
    assert "data-account" not in text
    assert "offline/outbox.js" in text


def test_a_key_is_said_back_only_with_an_answer_that_is_no_refusal(
    client: Client, nobody: Client, dossier: str
) -> None:
    key = new_id()
    row = {"part": "ot", "kind": "hand-date", "text": "3-64", "key": key}
    address = f"/dossiers/{dossier}/marks"
    asked = {"X-Outbox-Key": key}
    assert client.post(address, data=row, headers=asked).headers["x-outbox-kept"] == key
    assert client.post(address, data=row, headers=asked).headers["x-outbox-kept"] == key
    empty = client.post(address, data={**row, "text": ""}, headers={"X-Outbox-Key": new_id()})
    assert empty.status_code == 422
    assert "x-outbox-kept" not in empty.headers
    assert "x-outbox-kept" not in nobody.post(address, data=row, headers=asked).headers


@pytest.mark.parametrize("key", ["", "a\tb", "x" * 26, "01K0000000000000000000000A; evil"])
def test_only_a_key_is_said_back(client: Client, key: str) -> None:
    assert "x-outbox-kept" not in client.get("/offline", headers={"X-Outbox-Key": key}).headers
