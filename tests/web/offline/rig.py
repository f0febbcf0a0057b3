"""A bench for the outbox: a server that can be killed, a browser that can be killed."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Error, Page
from tests.chromium import FLAGS

from endbell.store import By, Change, Event, append, events_of, new_id

from ..running import ROOT, Running, add_people

WAIT = 10_000


class Bench(Running):
    """The server with the trial page."""

    def start(self, port: int = 0) -> None:
        """Start it; returns when it listens."""
        with (self.folder / "server.log").open("a") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "web.offline.trial", "--data", str(self.folder),
                 "--port", str(port), *self.options],
                env={
                    **os.environ,
                    "PYTHONPATH": os.pathsep.join([str(ROOT / "src"), str(ROOT / "tests")]),
                    "OPENBLAS_NUM_THREADS": "1",
                },
                stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=log, text=True,
            )  # fmt: skip
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()
        assert self.address.startswith("http://"), self.said()

    def kill(self) -> int:
        """Kill it; the port at which it listened."""
        self.stop(signal.SIGKILL)
        return int(self.address.rsplit(":", 1)[1])

    def died(self) -> None:
        """Waits until it has killed itself."""
        assert self.process is not None
        assert self.process.stdout is not None
        self.process.wait(10)
        self.process.stdout.close()

    def dossier(self) -> str:
        """The id of a new dossier."""
        made = new_id()
        db = self.open()
        head = {"number": f"TRV-{made[-6:]}", "packs": ["brackwater"],
                "claim": {"maker": "brackwater", "model": "lantern-20"}}  # fmt: skip
        append(db, made, [Change("opened", head)], by=By("tests", "test"))
        db.close()
        return made

    def entered(self, dossier: str) -> list[Event]:
        """The marks that the server has, in the order in which it recorded them."""
        db = self.open()
        try:
            return [e for e in events_of(db, dossier) if e.kind == "mark-set"]
        finally:
            db.close()

    def texts(self, dossier: str) -> list[str]:
        """What those marks say."""
        return [event.data["row"].get("text", "") for event in self.entered(dossier)]


@contextmanager
def bench(folder: Path, options: tuple[str, ...] = ()) -> Iterator[Bench]:
    """A server with an account of each role."""
    server = Bench(folder, None, options)
    db = server.open()
    add_people(db)
    db.close()
    server.start()
    try:
        yield server
    finally:
        if server.process is not None and server.process.poll() is None:
            server.stop()


class Phone:
    """A Chromium with a profile on disk, which can be killed and started again."""

    def __init__(self, browser: Browser, server: Running, profile: Path) -> None:
        self.kind, self.server, self.profile = browser.browser_type, server, profile
        self.context: BrowserContext | None = None

    def start(self, *flags: str, **more: Any) -> Page:
        """Start it; its page."""
        found = shutil.which("chromium") or shutil.which("chromium-browser")
        context = self.kind.launch_persistent_context(
            self.profile,
            executable_path=found,
            args=[*FLAGS, *flags],
            base_url=self.server.address,
            viewport={"width": 360, "height": 780},
            **more,
        )
        context.set_default_timeout(WAIT)
        self.context = context
        return context.pages[0]

    def sign_in(self, role: str = "technician") -> None:
        """As somebody, with a session that outlives the browser."""
        name, value = self.server.cookie(role)
        assert self.context is not None
        cookie: Any = {"name": name, "value": value, "url": self.server.address, "expires": 2e9}
        self.context.add_cookies([cookie])

    def kill(self) -> None:
        """As an empty battery does: no page hears of it."""
        listed = subprocess.run(
            ["pgrep", "-f", "--", f"--user-data-dir={self.profile}"], capture_output=True, text=True
        )
        for pid in listed.stdout.split():
            try:
                os.kill(int(pid), signal.SIGKILL)
            except ProcessLookupError:
                continue
        assert self.context is not None
        with suppress(Error):  # there is nothing left to close
            self.context.close()
        self.context = None
        for lock in self.profile.glob("Singleton*"):
            lock.unlink()

    def close(self) -> None:
        """Close it as a person does."""
        if self.context is not None:
            self.context.close()
            self.context = None


def until(page: Page, question: str, argument: Any = None) -> None:
    """Waits until ``question``, asked in the page, is answered with something true.

    The page's own policy forbids the browser driver's way of waiting.
    """
    for _ in range(WAIT // 20):
        if page.evaluate(question, argument):
            return
        page.wait_for_timeout(20)
    raise AssertionError(f"never: {question}; {line(page)}; {waiting(page)}")


def enter(page: Page, text: str) -> None:
    """Type a code in the form that htmx sends, and Enter; returns when the outbox has it."""
    before = page.evaluate("endbell.outbox.all().then(all => all.length)")
    page.fill("#text", text)
    page.press("#text", "Enter")
    until(page, "before => endbell.outbox.all().then(all => all.length > before)", before)


def waiting(page: Page) -> list[dict[str, Any]]:
    """What is in the outbox."""
    return page.evaluate("endbell.outbox.all()")


def all_sent(page: Page) -> None:
    """Waits until nothing is left to be sent."""
    until(page, "endbell.outbox.all().then(all => !all.some(e => e.state === 'waiting'))")


def line(page: Page) -> str:
    """What the line in the header says."""
    return page.locator("#outbox-line").inner_text()
