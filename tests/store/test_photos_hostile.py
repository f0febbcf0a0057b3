"""Files that mean harm, or are no photos, do none: refused with a sentence, or kept and harmless."""

from __future__ import annotations

import io
import resource
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from endbell.store.database import Database, connect
from endbell.store.photos import PhotoRefused, keep, open_photo, thumb, without_location

from .hostile import REFUSED, TWO_FACED, png_bomb, tall_jpeg, zip_bomb
from .pictures import heic, jpeg, saved, scene


@pytest.fixture
def db(tmp_path: Path) -> Iterator[Database]:
    opened = connect(tmp_path / "shop")
    yield opened
    opened.close()


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_no_whole_photo_is_refused_with_a_sentence(db: Database, case: str) -> None:
    name, made, says = REFUSED[case]
    with pytest.raises(PhotoRefused) as refused:
        keep(db, [made()], name)
    sentence = str(refused.value)
    assert sentence.startswith(name)
    assert says in sentence
    assert "accepted: " in sentence
    assert [p for p in db.folder.rglob("*") if p.is_file() and p.suffix != ".sqlite"] == []


def test_more_bytes_than_any_photo_has_are_not_read_to_their_end(db: Database) -> None:
    given = 0

    def endless() -> Iterator[bytes]:
        nonlocal given
        yield jpeg()
        while True:
            given += 1
            yield b"\0" * 2**20

    with pytest.raises(PhotoRefused, match=r"more than 2 MB; accepted"):
        keep(db, endless(), "a.jpg", max_bytes=2 * 2**20)
    assert given == 2


def test_bombs_take_no_memory_to_speak_of(db: Database) -> None:
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for made in (png_bomb(), tall_jpeg(), zip_bomb()):
        with pytest.raises(PhotoRefused):
            keep(db, [made], "bomb")
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000  # kilobytes


@pytest.mark.parametrize("case", TWO_FACED)
def test_of_a_photo_with_another_face_only_the_photo_leaves_the_shop(
    db: Database, case: str
) -> None:
    data = TWO_FACED[case]()
    kept = keep(db, [data], "polyglot.jpg.html")
    assert kept.type in ("image/jpeg", "image/png")
    assert open_photo(db, kept.sha256).path.read_bytes() == data
    for leaving in (without_location(data), thumb(db, kept.sha256, 320).read_bytes()):
        for face in (b"<script", b"%PDF", b"PK\x03\x04", b"MZ\x90", b"#!/bin"):
            assert face not in leaving
        with Image.open(io.BytesIO(leaving)) as opened:
            opened.load()


def test_pictures_spoilt_at_random_never_do_more_than_be_refused(db: Database) -> None:
    import random

    chance = random.Random(991)
    seeds = [jpeg(), saved(scene(64, 48), "PNG"), saved(scene(64, 48), "WEBP"), heic(scene(64, 64))]
    kept = refused = 0
    for n in range(100):
        data = bytearray(seeds[n % 4])
        for _ in range(chance.randint(1, 12)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        if chance.random() < 0.3:
            del data[chance.randrange(len(data)) :]
        try:
            photo = keep(db, [bytes(data)], "spoilt")
        except PhotoRefused as error:
            assert "accepted: " in str(error)
            refused += 1
        else:
            without_location(open_photo(db, photo.sha256).path)
            kept += 1
    assert kept > 5
    assert refused > 25
