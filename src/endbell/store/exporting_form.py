"""The form ``endbell-export/1``: members of the archive, and how rows stand in it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from .events import Event

FORMAT_NAME = "endbell-export"
FORMAT_NUMBER = 1
FORMAT = f"{FORMAT_NAME}/{FORMAT_NUMBER}"

MANIFEST = "manifest.json"
EVENTS = "events.jsonl"
ACCOUNTS = "accounts.jsonl"
DEVICES = "devices.jsonl"
LOG = "account-log.jsonl"
TABLES = (EVENTS, ACCOUNTS, DEVICES, LOG)
PHOTO = re.compile(r"photos/([0-9a-f]{2})/(\1[0-9a-f]{62})\.(jpg|png|webp|heic)")

LEFT_OUT = (
    "passwords and their hashes",
    "sessions and the secrets of devices",
    "links for pairing and for passwords",
    "share links",
    "tokens of the API",
    "counts of failed sign-ins",
    "small pictures and last verdicts, which are made again",
)
"""What an export never holds, said in its manifest and on the page."""

ACCOUNT_KEYS = ("id", "name", "folded", "role", "closed", "made_at", "changed_at", "settings")
DEVICE_KEYS = ("id", "name", "made_at", "seen_at")
LOG_KEYS = ("seq", "at", "who", "what", "about", "address")


@dataclass(frozen=True, slots=True)
class Member:
    """A member of the archive: its name, its size in bytes, SHA-256 of its content (hex)."""

    name: str
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """What an export says of itself.  ``missing``: photos that were lost or damaged before."""

    whole: bool
    endbell: str
    made_at: str
    counts: Mapping[str, int]
    members: tuple[Member, ...]
    missing: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """As it stands in ``manifest.json``."""
        return {
            "format": FORMAT,
            "endbell": self.endbell,
            "made_at": self.made_at,
            "whole": self.whole,
            "counts": dict(self.counts),
            "left_out": list(LEFT_OUT),
            "missing_photos": list(self.missing),
            "members": [
                {"name": m.name, "bytes": m.bytes, "sha256": m.sha256} for m in self.members
            ],
        }


def event_row(event: Event) -> dict[str, Any]:
    """An event as one line of ``events.jsonl``."""
    return asdict(event)
