"""The server killed in the middle of writes and uploads: nothing acknowledged is lost."""

from __future__ import annotations

from pathlib import Path

from .crashing import crash
from .running import running


def test_twenty_blows_lose_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    with running(tmp_path / "shop") as server:
        acknowledged, _ = crash(server, 20)
    assert acknowledged > 20
