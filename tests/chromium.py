"""A real Chromium: Debian's own, started as every test and every tool of pictures needs it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

FLAGS = (
    "--no-sandbox",
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
AXE = Path(__file__).parent / "report" / "vendor" / "axe.min.js"


@contextmanager
def chromium() -> Iterator[Browser]:
    """A running browser; without one the test is skipped, but fails under CI."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("chromium is not installed: apt-get install chromium")
        pytest.skip("chromium is not installed")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=list(FLAGS))
        try:
            yield browser
        finally:
            browser.close()
