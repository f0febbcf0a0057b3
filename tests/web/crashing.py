"""Rounds of kill -9 while entries and photos come in: what was acknowledged must be there, once.

Several hands write through the real server; each notes an entry only when it has been acknowledged.
After each round the server is started again on the same records, every unanswered request is sent
again with its key, and everything is looked at.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import random
import signal
import threading
import uuid
from collections import Counter
from dataclasses import dataclass, field

from endbell.store import events_of, new_id, state_of
from endbell.store.doctor import examine
from endbell.web.csrf import HEADER
from endbell.web.csrf_token import proof

from .running import Running

HANDS = 4
LONGEST = 0.4  # seconds until the blow, at most


@dataclass
class Told:
    """What was sent to a dossier: by key, and which of it was acknowledged."""

    dossier: str
    sent: dict[str, bytes | str] = field(default_factory=dict[str, "bytes | str"])
    acknowledged: set[str] = field(default_factory=set[str])

    def open_ones(self) -> list[str]:
        """Keys that nobody answered."""
        return [key for key in self.sent if key not in self.acknowledged]


class Hand:
    """One who writes: over one connection, an entry or a photo at a time."""

    def __init__(self, server: Running, dossier: str, seed: int) -> None:
        self.told = Told(dossier)
        self._server = server
        self._dice = random.Random(seed)
        name, self._secret = server.cookie("technician")
        self._headers = {"Cookie": f"{name}={self._secret}", HEADER: proof(self._secret)}

    def write(self, stop: threading.Event) -> None:
        """Send until the server is gone."""
        link = self._link()
        try:
            while not stop.is_set():
                self._send(link, *self._next())
        except (OSError, http.client.HTTPException):
            return
        finally:
            link.close()

    def send_again(self) -> None:
        """Everything that was not answered, with the keys it had."""
        link = self._link()
        for key in self.told.open_ones():
            self._send(link, key, self.told.sent[key])
        link.close()

    def _next(self) -> tuple[str, bytes | str]:
        key = new_id()
        if self._dice.random() < 0.2:
            return key, png(self._dice.randrange(2**32))
        return key, f"993-{self._dice.randrange(1000):03d}"

    def _send(self, link: http.client.HTTPConnection, key: str, what: bytes | str) -> None:
        self.told.sent[key] = what
        place = f"/dossiers/{self.told.dossier}"
        if isinstance(what, str):
            row = {"part": "ot", "kind": "source-date-code", "text": what}
            body = json.dumps(
                {"key": key, "changes": [{"kind": "mark-set", "data": {"mark": key, "row": row}}]}
            ).encode()
            head = {"Content-Type": "application/json"}
            link.request("POST", f"/api/v1{place}/changes", body, {**self._headers, **head})
        else:
            body, kind = multipart(key, what)
            head = {"Content-Type": kind, "Accept": "application/json"}
            link.request("POST", f"{place}/photos", body, {**self._headers, **head})
        answer = link.getresponse()
        said = answer.read()
        assert answer.status in (200, 201), (answer.status, said[:300])
        self.told.acknowledged.add(key)

    def _link(self) -> http.client.HTTPConnection:
        host, _, port = self._server.address.removeprefix("http://").partition(":")
        return http.client.HTTPConnection(host, int(port), timeout=60)


def crash(server: Running, rounds: int, seed: int = 1) -> tuple[int, int]:
    """Kill the running ``server`` so many times; entries acknowledged, and sent again.

    Raises AssertionError with what is lost, doubled or damaged.
    """
    dice = random.Random(seed)
    hands = [Hand(server, _booked_in(server, n), seed * 100 + n) for n in range(HANDS)]
    again = 0
    for n in range(rounds):
        stop = threading.Event()
        threads = [threading.Thread(target=hand.write, args=(stop,)) for hand in hands]
        for thread in threads:
            thread.start()
        stop.wait(LONGEST * dice.random())
        assert server.process is not None
        server.process.send_signal(signal.SIGKILL)
        for thread in threads:
            thread.join()
        _check(server, hands, f"round {n + 1}")
        server.process.wait()
        assert server.process.stdout is not None
        server.process.stdout.close()
        server.start()
        again += sum(len(hand.told.open_ones()) for hand in hands)
        for hand in hands:
            hand.send_again()
        _check(server, hands, f"round {n + 1}, sent again")
    return sum(len(hand.told.acknowledged) for hand in hands), again


def _check(server: Running, hands: list[Hand], when: str) -> None:
    db = server.open()
    try:
        findings = [finding for finding in examine(db) if finding.grave]
        assert findings == [], (when, findings)
        for hand in hands:
            told = hand.told
            state = state_of(db, told.dossier)
            marks = Counter((m.id, m.row["text"]) for m in state.standing)
            photos = Counter(p.sha256 for p in state.photos)
            for key in told.acknowledged:
                what = told.sent[key]
                if isinstance(what, str):
                    assert marks[key, what] == 1, (when, key, what)
                else:
                    assert photos[hashlib.sha256(what).hexdigest()] == 1, (when, key)
            keys = Counter(event.key for event in events_of(db, told.dossier))
            assert max(keys.values()) == 1
            unknown = {m.id for m in state.standing} - set(told.sent)
            assert not unknown, (when, unknown)
    finally:
        db.close()


def _booked_in(server: Running, n: int) -> str:
    from endbell.store import By, Change, append

    dossier = new_id()
    db = server.open()
    opened = Change("opened", {"number": f"CRASH-{dossier[-6:]}-{n}", "packs": ["brackwater"]})
    append(db, dossier, [opened], by=By("crash"))
    db.close()
    return dossier


def png(seed: int) -> bytes:
    """A small picture like no other."""
    from io import BytesIO

    from PIL import Image

    out = BytesIO()
    Image.frombytes("RGB", (16, 12), random.Random(seed).randbytes(16 * 12 * 3)).save(out, "PNG")
    return out.getvalue()


def multipart(key: str, photo: bytes) -> tuple[bytes, str]:
    """A form with a key and one photo; its bytes and its content type."""
    border = uuid.uuid4().hex
    body = (
        f'--{border}\r\nContent-Disposition: form-data; name="key"\r\n\r\n{key}\r\n'
        f'--{border}\r\nContent-Disposition: form-data; name="photo"; filename="ot.png"\r\n'
        "Content-Type: image/png\r\n\r\n"
    ).encode()
    return (
        body + photo + f"\r\n--{border}--\r\n".encode(),
        f"multipart/form-data; boundary={border}",
    )
