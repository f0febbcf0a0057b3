"""Photos over the web: good ones kept beside bad ones, shown as pictures only, moved, withdrawn."""

from __future__ import annotations

import hashlib
import io
import itertools
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from PIL import Image
from starlette.testclient import TestClient
from store.hostile import REFUSED, TWO_FACED
from store.pictures import SECRETS, corners, heic, jpeg, saved, scene, tags

from endbell.store import By, Change, append, events_of, new_id, state_of
from endbell.store.doctor import examine
from endbell.store.photos import open_photo
from endbell.web.app import create_app
from endbell.web.desk import Desk
from endbell.web.settings import Settings

from .conftest import Client
from .running import CHEAP, add_people

HTMX = {"HX-Request": "true"}
NUMBERS = itertools.count(1)


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """One workbench for all tests of this file, each with a dossier of its own."""
    made = create_app(Settings(data=tmp_path_factory.mktemp("shop"), hash_cost=CHEAP))
    add_people(made.state.desk.db)
    with TestClient(made, base_url="http://127.0.0.1"):
        yield made


@pytest.fixture
def dossier(desk: Desk) -> str:
    """A dossier with a mark on the output transformer."""
    made = new_id()
    row = {"part": "ot", "kind": "source-date-code", "text": "993-348"}
    changes = [
        Change("opened", {"number": f"TRV-{next(NUMBERS)}", "packs": ["brackwater"]}),
        Change("mark-set", {"mark": new_id(), "row": row}),
    ]
    append(desk.db, made, changes, by=By("tests", "test"))
    return made


JSON = {"Accept": "application/json"}


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def send(client: Client, dossier: str, *files: tuple[str, bytes], headers: Any = None, **data: str):
    parts = [("photo", (name, body, "application/octet-stream")) for name, body in files]
    return client.post(
        f"/dossiers/{dossier}/photos",
        files=parts,
        data=data,
        headers=headers,
        follow_redirects=False,
    )


def first_mark(desk: Desk, dossier: str) -> str:
    return state_of(desk.db, dossier).marks[0].id


def test_a_photo_of_a_mark_is_kept_and_stands_with_it(
    client: Client, desk: Desk, dossier: str
) -> None:
    mark = first_mark(desk, dossier)
    answer = send(client, dossier, ("IMG.JPG", jpeg()), headers=JSON, mark=mark, key=new_id())
    assert answer.status_code == 201
    told = answer.json()["photos"][0]
    assert (told["sha256"], told["type"], told["taken"]) == (
        sha(jpeg()), "image/jpeg", "2026-03-02T14:05:06",
    )  # fmt: skip
    state = state_of(desk.db, dossier)
    assert [p.sha256 for p in state.photos_of(mark)] == [sha(jpeg())]
    assert state.form()["mark"][0]["photos"] == [f"photos/{sha(jpeg())}"]
    assert open_photo(desk.db, sha(jpeg())).path.read_bytes() == jpeg()


def test_good_photos_are_kept_when_another_is_refused(
    client: Client, desk: Desk, dossier: str
) -> None:
    page = b"<html><script>alert(1)</script>"
    answer = send(
        client, dossier, ("a.jpg", jpeg()), ("b.jpg", page), ("c.png", saved(scene(), "PNG")),
        headers=HTMX,
    )  # fmt: skip
    assert answer.status_code == 200
    assert "2 photos kept" in answer.text
    assert "b.jpg: a web page (HTML); accepted: a photo as JPEG, PNG, WebP or HEIC" in answer.text
    assert len(state_of(desk.db, dossier).photos) == 2


def test_a_photo_alone_that_is_refused_is_a_refusal(client: Client, dossier: str) -> None:
    answer = send(client, dossier, ("b.jpg", b"<html>"), headers=JSON)
    assert answer.status_code == 422
    assert answer.json()["error"] == {
        "status": 422,
        "found": "b.jpg: a web page (HTML)",
        "accepted": "a photo as JPEG, PNG, WebP or HEIC",
        "place": "",
    }


@pytest.mark.parametrize("case", REFUSED)
def test_hostile_files_are_refused_with_a_sentence(
    client: Client, desk: Desk, dossier: str, case: str
) -> None:
    name, made, says = REFUSED[case]
    answer = send(client, dossier, (name, made()), headers=JSON)
    assert answer.status_code == 422
    assert says in answer.json()["error"]["found"] + answer.json()["error"]["accepted"]
    assert state_of(desk.db, dossier).photos == ()


@pytest.mark.parametrize("case", TWO_FACED)
def test_a_file_of_two_faces_is_only_ever_a_picture(
    client: Client, dossier: str, case: str
) -> None:
    data = TWO_FACED[case]()
    assert send(client, dossier, ("x.html", data), headers=JSON).status_code == 201
    answer = client.get(f"/photos/{sha(data)}")
    assert answer.content == data
    assert answer.headers["content-type"] in ("image/jpeg", "image/png")
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["content-security-policy"] == "sandbox; default-src 'none'"
    assert ".html" not in answer.headers["content-disposition"]
    copy = client.get(f"/photos/{sha(data)}/copy").content
    assert b"<script" not in copy and b"PK\x03\x04" not in copy


def test_sending_a_photo_twice_records_it_once(client: Client, desk: Desk, dossier: str) -> None:
    key, mark = new_id(), first_mark(desk, dossier)
    for _ in range(2):
        send(client, dossier, ("a.jpg", jpeg()), headers=HTMX, key=key, mark=mark)
    again = send(client, dossier, ("a.jpg", jpeg()), headers=JSON, key=new_id(), mark=mark)
    assert again.status_code == 200
    added = [e for e in events_of(desk.db, dossier) if e.kind == "photo-added"]
    assert len(added) == 1


def test_another_photo_under_the_same_key_is_not_lost(
    client: Client, desk: Desk, dossier: str
) -> None:
    key = new_id()
    send(client, dossier, ("a.jpg", jpeg()), key=key)
    send(client, dossier, ("b.jpg", jpeg(3)), key=key)
    assert len(state_of(desk.db, dossier).photos) == 2


def test_a_photo_that_is_here_already_is_said_to_be(
    client: Client, desk: Desk, dossier: str
) -> None:
    send(client, dossier, ("a.jpg", jpeg()), part="ot")
    answer = send(client, dossier, ("a.jpg", jpeg()), headers=HTMX, part="pot-1")
    assert "was here already, with ot" in answer.text
    assert state_of(desk.db, dossier).photos[0].part == "ot"


def test_a_photo_of_the_whole_amp_finds_its_part_when_sent_again(
    client: Client, desk: Desk, dossier: str
) -> None:
    send(client, dossier, ("a.jpg", jpeg()))
    send(client, dossier, ("a.jpg", jpeg()), part="pot-1")
    assert state_of(desk.db, dossier).photos[0].part == "pot-1"


def test_nothing_sent_is_said(client: Client, dossier: str) -> None:
    answer = client.post(f"/dossiers/{dossier}/photos", data={"mark": "x"}, headers=JSON)
    assert answer.status_code == 422
    assert "no photo" in answer.json()["error"]["found"]


@pytest.mark.parametrize(
    ("field", "value"),
    [("mark", "../../x"), ("mark", "y" * 65), ("part", "z" * 81), ("part", "a\x07")],
)
def test_a_place_that_can_not_be_is_refused(
    client: Client, desk: Desk, dossier: str, field: str, value: str
) -> None:
    answer = send(client, dossier, ("a.jpg", jpeg()), headers=JSON, **{field: value})
    assert answer.status_code == 422
    assert state_of(desk.db, dossier).photos == ()


def test_a_dossier_that_is_not_there_takes_no_photo(client: Client) -> None:
    assert send(client, new_id(), ("a.jpg", jpeg()), headers=JSON).status_code == 404


# ---- showing


def test_small_pictures_are_webp_upright_and_bare(client: Client, dossier: str) -> None:
    data = heic(scene(), exif=tags(1).tobytes())
    send(client, dossier, ("IMG.HEIC", data))
    for size in (320, 1280):
        answer = client.get(f"/photos/{sha(data)}/thumb?size={size}")
        assert answer.headers["content-type"] == "image/webp"
        with Image.open(io.BytesIO(answer.content)) as small:
            assert corners(small) == "rgbw"
            assert not small.getexif()
    assert client.get(f"/photos/{sha(data)}/thumb?size=99").status_code == 422


def test_the_copy_that_leaves_says_nothing_of_camera_or_place(client: Client, dossier: str) -> None:
    send(client, dossier, ("a.jpg", jpeg(6)))
    copy = client.get(f"/photos/{sha(jpeg(6))}/copy")
    assert not any(secret in copy.content for secret in SECRETS)
    assert "copy" in copy.headers["content-disposition"]


def test_a_photo_is_not_packed_once_more(client: Client, dossier: str) -> None:
    send(client, dossier, ("a.jpg", jpeg()))
    for address in (f"/photos/{sha(jpeg())}", f"/photos/{sha(jpeg())}/thumb"):
        answer = client.get(address, headers={"Accept-Encoding": "gzip"})
        assert answer.headers["content-encoding"] == "identity"
        assert int(answer.headers["content-length"]) == len(answer.content)


def test_doctor_is_content_with_photos_and_their_copies(
    client: Client, desk: Desk, dossier: str
) -> None:
    send(client, dossier, ("a.jpg", jpeg(8)))
    client.get(f"/photos/{sha(jpeg(8))}/copy")
    assert [f for f in examine(desk.db) if sha(jpeg(8))[:12] in str(f)] == []


def test_what_has_not_changed_is_not_sent_again(client: Client, dossier: str) -> None:
    send(client, dossier, ("a.jpg", jpeg()))
    first = client.get(f"/photos/{sha(jpeg())}/thumb")
    again = client.get(
        f"/photos/{sha(jpeg())}/thumb", headers={"If-None-Match": first.headers["etag"]}
    )
    assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize("sha256", ["0" * 64, "x", "..%2f..%2fetc%2fpasswd"])
def test_a_photo_that_is_not_there_is_not_found(client: Client, sha256: str) -> None:
    for address in (f"/photos/{sha256}", f"/photos/{sha256}/thumb", f"/photos/{sha256}/copy"):
        assert client.get(address).status_code == 404


def test_a_browser_that_opens_a_photo_is_led_to_the_viewer(client: Client, dossier: str) -> None:
    send(client, dossier, ("a.jpg", jpeg()))
    answer = client.get(
        f"/photos/{sha(jpeg())}",
        headers={"Sec-Fetch-Dest": "document", "Referer": f"http://127.0.0.1/dossiers/{dossier}"},
        follow_redirects=False,
    )
    assert answer.headers["location"] == f"/dossiers/{dossier}/photos/{sha(jpeg())}"


def test_a_reader_sees_photos_and_sends_none(
    client: Client, reader: Client, nobody: Client, dossier: str
) -> None:
    send(client, dossier, ("a.jpg", jpeg()))
    address = f"/photos/{sha(jpeg())}"
    assert reader.get(address).content == jpeg()
    assert send(reader, dossier, ("b.jpg", jpeg(3)), headers=JSON).status_code == 403
    for what in ("withdraw", "place", "bring-back"):
        assert reader.post(f"/dossiers/{dossier}{address}/{what}").status_code == 403
    assert nobody.get(address, headers=JSON).status_code == 401
    assert nobody.get(f"{address}/thumb", headers=JSON).status_code == 401


# ---- pages


def test_the_gallery_of_an_amp_of_a_mark_and_of_a_part(
    client: Client, desk: Desk, dossier: str
) -> None:
    mark = first_mark(desk, dossier)
    send(client, dossier, ("a.jpg", jpeg()), mark=mark)
    send(client, dossier, ("b.jpg", jpeg(3)), part="label")
    send(client, dossier, ("c.jpg", jpeg(6)))
    whole = client.get(f"/dossiers/{dossier}/photos").text
    assert whole.count("<li>") >= 3 and "<h1>Photos</h1>" in whole
    of_mark = client.get(f"/dossiers/{dossier}/photos?mark={mark}", headers=HTMX).text
    assert sha(jpeg()) in of_mark and "993-348" in of_mark
    assert sha(jpeg(3)) not in of_mark and "<html" not in of_mark
    of_part = client.get(f"/dossiers/{dossier}/photos?part=label", headers=HTMX).text
    assert sha(jpeg(3)) in of_part and sha(jpeg()) not in of_part


def test_the_viewer_leads_to_the_next_and_the_previous(client: Client, dossier: str) -> None:
    photos = [jpeg(), jpeg(3), heic(scene())]
    send(client, dossier, *((f"{n}.jpg", data) for n, data in enumerate(photos)))
    hashes = [sha(data) for data in photos]
    text = client.get(f"/dossiers/{dossier}/photos/{hashes[1]}").text
    assert f'rel="prev" data-key="ArrowLeft" href="/dossiers/{dossier}/photos/{hashes[0]}"' in text
    assert f'rel="next" data-key="ArrowRight" href="/dossiers/{dossier}/photos/{hashes[2]}"' in text
    assert "2 of 3" in text and "Tomas Bench" in text
    assert f'src="/photos/{hashes[1]}" alt=""' in text
    last = client.get(f"/dossiers/{dossier}/photos/{hashes[2]}").text
    assert f'src="/photos/{hashes[2]}/copy"' in last, "browsers show no HEIC: its copy instead"


def test_a_photo_is_moved_to_the_mark_it_shows(client: Client, desk: Desk, dossier: str) -> None:
    mark = first_mark(desk, dossier)
    send(client, dossier, ("a.jpg", jpeg()))
    address = f"/dossiers/{dossier}/photos/{sha(jpeg())}"
    client.post(f"{address}/place", data={"mark": mark})
    photo = state_of(desk.db, dossier).photos[0]
    assert (photo.mark, photo.part) == (mark, "ot")
    client.post(f"{address}/place", data={"mark": "", "part": "cab"})
    photo = state_of(desk.db, dossier).photos[0]
    assert (photo.mark, photo.part) == (None, "cab")
    assert client.post(f"{address}/place", data={"mark": "nowhere"}).status_code == 422


def test_a_withdrawn_photo_is_kept_and_can_come_back(
    client: Client, desk: Desk, dossier: str
) -> None:
    send(client, dossier, ("a.jpg", jpeg()), part="ot")
    address = f"/dossiers/{dossier}/photos/{sha(jpeg())}"
    assert "Withdrawn" in client.post(f"{address}/withdraw", data={"reason": "blurred"}).text
    assert state_of(desk.db, dossier).photos[0].withdrawn
    assert client.get(f"/photos/{sha(jpeg())}").content == jpeg()
    client.post(f"{address}/bring-back")
    photo = state_of(desk.db, dossier).photos[0]
    assert (photo.withdrawn, photo.part) == (False, "ot")


def test_a_photo_of_another_dossier_is_not_in_this_one(
    client: Client, desk: Desk, dossier: str
) -> None:
    other = new_id()
    number = f"TRV-{next(NUMBERS)}"
    append(desk.db, other, [Change("opened", {"number": number})], by=By("tests", "test"))
    send(client, other, ("a.jpg", jpeg()))
    assert client.get(f"/dossiers/{dossier}/photos/{sha(jpeg())}").status_code == 404
    answer = client.post(f"/dossiers/{dossier}/photos/{sha(jpeg())}/withdraw")
    assert answer.status_code == 404


def test_when_it_was_typed_offline_is_kept(client: Client, desk: Desk, dossier: str) -> None:
    send(client, dossier, ("a.jpg", jpeg()), typed="2026-03-02T10:00:00.000Z")
    assert events_of(desk.db, dossier)[-1].typed == "2026-03-02T10:00:00.000Z"
    send(client, dossier, ("b.jpg", jpeg(3)), typed="<script>")
    assert events_of(desk.db, dossier)[-1].typed is None
