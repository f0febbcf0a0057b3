"""Archives that mean harm are refused with a sentence, and nothing of them stays."""

from __future__ import annotations

import hashlib
import io
import json
import warnings
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from endbell.store import Database
from endbell.store.events import Event, canonical, digest_of
from endbell.store.exporting import export_to
from endbell.store.exporting_form import event_row
from endbell.store.importing import ImportRefused, check_import, import_export

from .pictures import jpeg
from .shops import contents, empty, files_of, stock

STREAM = "01JD8Y3K7Q2M5N8P4R6S9T1V3W"
Members = list[tuple[str, bytes]]


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Database]:
    db = empty(tmp_path / "other")
    yield db
    db.close()


def lines(*events: Event) -> bytes:
    """The events as a table, their digests as they should be."""
    digest, out = "", b""
    for event in events:
        digest = digest_of(digest, event)
        out += canonical({**event_row(event), "digest": digest}).encode() + b"\n"
    return out


def event(n: int, kind: str, data: dict[str, Any], stream: str = STREAM, **more: Any) -> Event:
    values = {
        "at": "2026-03-02T09:00:00.000000Z",
        "who": "RT",
        "device": "",
        "key": f"{stream}-{n}",
    }
    return Event(more.pop("seq", n), stream, n, kind=kind, data=data, **{**values, **more})


OPENED = event(1, "opened", {"number": "TRV-1"})


def archive(
    members: Members, *, manifest: dict[str, Any] | None = None, more: Members | None = None
) -> bytes:
    """An export of these members; ``more``: members that the manifest does not list."""
    said = {
        "format": "endbell-export/1",
        "whole": True,
        "missing_photos": [],
        "members": [
            {"name": name, "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
            for name, data in members
        ],
        **(manifest or {}),
    }
    out = io.BytesIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # zipfile warns of two members of one name
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
            for name, data in [*members, *(more or [])]:
                made.writestr(name, data)
            made.writestr("manifest.json", json.dumps(said))
    return out.getvalue()


def events_only(*events: Event) -> bytes:
    return archive([("events.jsonl", lines(*events))])


def photo_member(data: bytes, ending: str = "jpg", sha256: str = "") -> tuple[str, bytes]:
    name = sha256 or hashlib.sha256(data).hexdigest()
    return f"photos/{name[:2]}/{name}.{ending}", data


def photo_event(sha256: str) -> Event:
    data = {"photo": sha256, "name": "a", "type": "image/jpeg", "bytes": 1}
    return event(2, "photo-added", data)


def bomb() -> bytes:
    return archive([("events.jsonl", lines(OPENED)), ("accounts.jsonl", b"\n" * 90_000_000)])


def altered() -> bytes:
    good = lines(OPENED, event(2, "note-set", {"note": "as found"}))
    return archive([("events.jsonl", good.replace(b"as found", b"as bought"))])


def not_its_hash() -> bytes:
    data = archive([("events.jsonl", lines(OPENED))])
    other = archive([("events.jsonl", lines(OPENED).replace(b"RT", b"XX"))])
    with zipfile.ZipFile(io.BytesIO(data)) as good, zipfile.ZipFile(io.BytesIO(other)) as bad:
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as made:
            made.writestr("events.jsonl", bad.read("events.jsonl"))
            made.writestr("manifest.json", good.read("manifest.json"))
    return out.getvalue()


def encrypted() -> bytes:
    data = bytearray(events_only(OPENED))
    for magic, at in ((b"PK\3\4", 6), (b"PK\1\2", 8)):
        data[data.index(magic) + at] |= 1
    return bytes(data)


HTML = b"<html><script>alert(1)</script></html>"
BASE = ("events.jsonl", lines(OPENED))
KEY = "x" * 65

HOSTILE: dict[str, tuple[Callable[[], bytes], str]] = {
    "nothing": (lambda: b"", "no zip archive"),
    "a web page": (lambda: HTML, "no zip archive"),
    "half an archive": (lambda: events_only(OPENED)[:-30], "no zip archive"),
    "an archive of something else": (lambda: archive([("readme.txt", b"hello")]), "readme.txt"),
    "a way out of the folder": (lambda: archive([BASE, ("../../evil.sh", b"x")]), "evil.sh"),
    "a way from the root": (lambda: archive([BASE, ("/etc/cron.d/x", b"x")]), "/etc/cron.d/x"),
    "a way out by a photo": (
        lambda: archive([BASE, ("photos/../../" + "a" * 64 + ".jpg", b"x")]), "photos/..",
    ),
    "a folder": (lambda: archive([BASE], more=[("photos/", b"")]), "'photos/'"),
    "two members of one name": (lambda: archive([BASE], more=[BASE]), "two members are called"),
    "a member that the manifest has not": (
        lambda: archive([BASE], more=[("devices.jsonl", b"")]), "not in both",
    ),
    "a member that only the manifest has": (
        lambda: archive([BASE], manifest={"members": [
            {"name": "events.jsonl", "bytes": len(BASE[1]), "sha256": hashlib.sha256(BASE[1]).hexdigest()},
            {"name": "devices.jsonl", "bytes": 0, "sha256": "0" * 64},
        ]}), "not in both",
    ),
    "a member that is not its hash": (not_its_hash, "has been altered"),
    "no manifest": (lambda: (b := io.BytesIO(), zipfile.ZipFile(b, "w").close(), b.getvalue())[2],
                    "no manifest.json"),
    "no events": (lambda: archive([("accounts.jsonl", b"")]), "no events.jsonl"),
    "another format": (lambda: archive([BASE], manifest={"format": "other/1"}), "its format is"),
    "a newer format": (
        lambda: archive([BASE], manifest={"format": "endbell-export/2"}), "newer Endbell",
    ),
    "a manifest of rubbish": (lambda: archive([BASE], manifest={"members": [7]}), "lists a member"),
    "hashes that are none": (
        lambda: archive([BASE], manifest={"missing_photos": ["../x"]}), "no hashes",
    ),
    "a table that unpacks to anything": (bomb, "unpacks to more than 200 times"),
    "an encrypted member": (encrypted, "is encrypted"),
    "an event altered by hand": (altered, "has been altered"),
    "an event of no known kind": (lambda: events_only(OPENED, event(2, "deleted", {})), "deleted"),
    "an event of wrong data": (
        lambda: events_only(OPENED, event(2, "mark-set", {"mark": 1, "row": {}})), "should be a text",
    ),
    "a gap among the events": (
        lambda: events_only(OPENED, event(3, "closed", {})), "event 2 of",
    ),
    "a dossier that was never opened": (lambda: events_only(event(1, "closed", {})), "not opened"),
    "a dossier opened twice": (
        lambda: events_only(OPENED, event(2, "opened", {"number": "X"})), "opened by its first",
    ),
    "a stream in two pieces": (
        lambda: archive([("events.jsonl", lines(OPENED)
                          + lines(event(1, "setting-set", {"name": "a", "value": "b"}, "shop", seq=2))
                          + lines(OPENED))]), "don't stand together",
    ),
    "two events in one place": (
        lambda: events_only(OPENED, event(2, "closed", {}, seq=1)), "same place among all",
    ),
    "one key for two events": (
        lambda: events_only(OPENED, event(2, "closed", {}, key=f"{STREAM}-1")), "has already",
    ),
    "a key too long for the table": (
        lambda: events_only(OPENED, event(2, "closed", {}, key=KEY)), "key is",
    ),
    "a stream with a way out": (
        lambda: events_only(event(1, "opened", {"number": "X"}, "../x")), "not an event",
    ),
    "a time that is none": (
        lambda: events_only(event(1, "opened", {"number": "X"}, at="yesterday")), "not an event",
    ),
    "a number beyond all": (
        lambda: events_only(OPENED, event(2, "closed", {}, seq=2**70)), "seq is",
    ),
    "lines that are no JSON": (lambda: archive([("events.jsonl", b"{\n")]), "no JSON"),
    "a line that is a list": (lambda: archive([("events.jsonl", b"[]\n")]), "not a table"),
    "a line too deep": (lambda: archive([("events.jsonl", b"[" * 100_000 + b"\n")]), "no JSON"),
    "half a line": (lambda: archive([("events.jsonl", BASE[1][:-5])]), "middle of a line"),
    "an infinite number": (
        lambda: archive([("events.jsonl", BASE[1].replace(b'"TRV-1"', b"Infinity"))]), "no JSON",
    ),
    "a photo that is not its name": (
        lambda: archive([BASE, photo_member(jpeg(), sha256="0" * 64)]), "not called by its hash",
    ),
    "a web page called photo": (
        lambda: archive([("events.jsonl", lines(OPENED, photo_event(hashlib.sha256(HTML).hexdigest()))),
                         photo_member(HTML)]), "a web page",
    ),
    "a JPEG called PNG": (
        lambda: archive([("events.jsonl", lines(OPENED, photo_event(hashlib.sha256(jpeg()).hexdigest()))),
                         photo_member(jpeg(), "png")]), "is JPEG, not what its name says",
    ),
    "a photo that is nowhere": (
        lambda: events_only(OPENED, photo_event("1" * 64)), "not in the archive",
    ),
    "an account of no role": (
        lambda: archive([BASE, ("accounts.jsonl", canonical(
            {"id": "A", "name": "A", "folded": "a", "role": "god", "closed": False, "made_at": "",
             "changed_at": "", "settings": "{}"}).encode() + b"\n")]), "role is 'god'",
    ),
    "an account with a password": (
        lambda: archive([BASE, ("accounts.jsonl", canonical(
            {"id": "A", "name": "A", "folded": "a", "role": "owner", "closed": False, "made_at": "",
             "changed_at": "", "settings": "{}", "password": "x"}).encode() + b"\n")]), "has not the keys",
    ),
    "two dossiers of one number": (
        lambda: archive([("events.jsonl", lines(OPENED) + lines(
            event(1, "opened", {"number": "TRV-1"}, "01JD8Y3K7Q2M5N8P4R6S9T1V3X", seq=2)))]),
        "number of another dossier",
    ),
}  # fmt: skip


def look_and_take(db: Database, path: Path) -> None:
    """As the page does it: some trouble is seen only when it is taken in."""
    check_import(db, path)
    import_export(db, path)


@pytest.mark.parametrize("case", HOSTILE)
def test_what_is_no_honest_export_is_refused_and_leaves_nothing(other: Database, case: str) -> None:
    made, says = HOSTILE[case]
    path = other.folder / "hostile.zip"
    path.write_bytes(made())
    with pytest.raises(ImportRefused) as refused:
        look_and_take(other, path)
    assert says in str(refused.value)
    assert not any(contents(other).values())
    assert files_of(other) == {}
    assert {p.name for p in other.folder.rglob("*") if p.is_file()} <= {
        "hostile.zip", "endbell.sqlite", "endbell.sqlite-wal", "endbell.sqlite-shm",
    }  # fmt: skip


def test_the_archives_of_these_tests_are_refused_for_what_is_wrong_with_them(
    other: Database,
) -> None:
    path = other.folder / "good.zip"
    data = jpeg()
    table = lines(OPENED, photo_event(hashlib.sha256(data).hexdigest()))
    path.write_bytes(archive([("events.jsonl", table), photo_member(data)]))
    assert import_export(other, path).added == ("TRV-1",)


def test_an_export_spoilt_at_random_is_refused_or_what_it_was(
    tmp_path: Path, other: Database
) -> None:
    import random

    shop = empty(tmp_path / "shop")
    stock(shop)
    path = tmp_path / "all.zip"
    export_to(shop, path)
    shop.close()
    data = path.read_bytes()
    chance = random.Random(990)
    refused = 0
    for _ in range(40):
        spoilt = bytearray(data)
        spoilt[chance.randrange(len(spoilt))] ^= 1 << chance.randrange(8)
        path.write_bytes(spoilt)
        try:
            plan = check_import(other, path)
        except ImportRefused:
            refused += 1
        else:
            assert plan.added == ("TRV-1", "TRV-2", "TRV-3")
    assert refused > 25
