"""The real server as a process of its own, with accounts that can sign in at once."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from endbell.store import Database, open_database
from endbell.store.accounts import ROLES, account_named, add_account
from endbell.store.sessions import begin_session, device_for
from endbell.web.passwords import Passwords
from endbell.web.settings import HashCost

ROOT = Path(__file__).parents[2]
CHEAP = HashCost(1, 8, 1)
PASSWORD = "two rivers under the bridge"
NAMES = {"reader": "Rhea Reader", "technician": "Tomas Bench", "owner": "Olive Owner"}


def add_people(db: Database) -> None:
    """An account of each role, with :data:`PASSWORD`."""
    kept = Passwords(CHEAP).made(PASSWORD)
    for role in ROLES:
        if account_named(db, NAMES[role]) is None:
            add_account(db, NAMES[role], role, password=kept)


def session_for(db: Database, role: str) -> str:
    """The secret of a new session of the account with that role."""
    account = account_named(db, NAMES[role])
    assert account is not None
    device, _ = device_for(db, None, f"device of {account.name}")
    return begin_session(db, account.id, device, account.role, "password")


@dataclass
class Running:
    """A server: its ``address`` (http://127.0.0.1:port), its folder, its database's URL if any."""

    folder: Path
    database: str | None = None
    options: tuple[str, ...] = ()
    address: str = ""
    process: subprocess.Popen[str] | None = field(default=None, repr=False)

    def cookie(self, role: str) -> tuple[str, str]:
        """Name and value of the cookie of a new session."""
        db = self.open()
        try:
            return "endbell", session_for(db, role)
        finally:
            db.close()

    def open(self) -> Database:
        """The server's database, opened beside it; to be closed again."""
        return open_database(self.folder, self.database)

    def start(self, port: int = 0) -> None:
        """Start it; returns when it listens."""
        told = ["--data", str(self.folder), "--port", str(port), *self.options]
        if self.database:
            told += ["--database", self.database]
        log = (self.folder / "server.log").open("a")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "endbell", "serve", *told],
            env={
                **os.environ,
                "PYTHONPATH": os.pathsep.join(
                    [str(ROOT / "src"), os.environ.get("PYTHONPATH", "")]
                ),
                "OPENBLAS_NUM_THREADS": "1",
            },
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
        )
        log.close()
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()
        assert self.address.startswith("http://"), self.said()

    def stop(self, how: signal.Signals = signal.SIGINT) -> int:
        """Stop it and wait; the exit status."""
        assert self.process is not None
        self.process.send_signal(how)
        try:
            return self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            raise
        finally:
            if self.process.stdout is not None:
                self.process.stdout.close()

    def restart(self, how: signal.Signals = signal.SIGINT) -> None:
        """Stop it and start it on the same port."""
        port = int(self.address.rsplit(":", 1)[1])
        self.stop(how)
        self.start(port)

    def said(self) -> str:
        """What it wrote on standard error."""
        return (self.folder / "server.log").read_text(encoding="utf-8")


@contextmanager
def running(
    folder: Path, database: str | None = None, options: tuple[str, ...] = ()
) -> Iterator[Running]:
    """A server over ``folder`` with an account of each role."""
    server = Running(folder, database, options)
    db = server.open()
    add_people(db)
    db.close()
    server.start()
    try:
        yield server
    finally:
        if server.process is not None and server.process.poll() is None:
            server.stop()
