"""The server as it is started and stopped."""

from __future__ import annotations

from pathlib import Path
from urllib.request import urlopen

from playwright.sync_api import Page

from .running import PASSWORD, Running, running


def test_the_first_line_is_the_address_and_ctrl_c_stops_it_cleanly(tmp_path: Path) -> None:
    with running(tmp_path) as server:
        with urlopen(f"{server.address}/healthy") as answer:
            assert answer.status == 200
        assert server.stop() == 0
        assert "Traceback" not in server.said()


def test_somebody_signs_in_with_name_and_password(page: Page, server: Running) -> None:
    page.context.clear_cookies()
    page.goto("/login")
    page.get_by_label("Name").fill("tomas bench")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("link", name="Tomas Bench").wait_for()
