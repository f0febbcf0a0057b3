"""A real PostgreSQL for the tests: a server of their own, in a folder, heard on a socket alone."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import pytest

HOMES = Path("/usr/lib/postgresql")


@dataclass(frozen=True)
class Server:
    """A running server: ``url(name)`` is the address of one of its databases."""

    folder: Path

    def url(self, name: str) -> str:
        return f"postgresql://postgres@/{name}?host={quote(str(self.folder))}"

    def run(self, statement: str) -> None:
        """One statement in the server's own database."""
        import psycopg

        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(statement)  # pyright: ignore[reportArgumentType, reportCallIssue]


def programs() -> Path | None:
    """The folder with initdb and pg_ctl of the newest server that is installed."""
    found = [p.parent for p in HOMES.glob("*/bin/initdb")]
    return max(found, key=lambda p: float(p.parent.name), default=None)


def need() -> Path:
    """The programs; without them the test is skipped, but fails where everything should be there."""
    found = programs()
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("PostgreSQL is not installed: apt-get install postgresql")
        pytest.skip("PostgreSQL is not installed (apt-get install postgresql)")
    return found


@contextmanager
def running(*, lasting: bool = False) -> Iterator[Server]:
    """A server until the block is left, and then thrown away.

    Nothing is flushed to the disk unless it is to write as one whose records must last.
    """
    bin_folder = need()
    # the short path leaves room for the socket's name; every folder above must let others pass
    folder = Path(tempfile.mkdtemp(prefix="pg-", dir=tempfile.gettempdir()))
    as_whom = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    if as_whom:
        shutil.chown(folder, "postgres")
    data = folder / "data"
    options = f"-k {folder} -c listen_addresses='' -c max_connections=60"
    if lasting:
        options += " -c shared_buffers=128MB"
    else:
        options += (
            " -c fsync=off -c full_page_writes=off -c synchronous_commit=off -c shared_buffers=32MB"
        )
    try:
        _run([*as_whom, bin_folder / "initdb", "-D", data, "-U", "postgres", "-A", "trust", "-N"])
        log = folder / "log"
        start = [*as_whom, bin_folder / "pg_ctl", "-D", data, "-l", log, "-o", options, "-w"]
        _run([*start, "start"])
        try:
            yield Server(folder)
        finally:
            _run([*as_whom, bin_folder / "pg_ctl", "-D", data, "-m", "immediate", "-w", "stop"])
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def database(server: Server, template: str = "template0") -> Iterator[str]:
    """A database of its own, dropped when the block is left; its name."""
    name = f"t{uuid.uuid4().hex}"
    server.run(f"CREATE DATABASE {name} TEMPLATE {template} ENCODING 'UTF8'")
    try:
        yield name
    finally:
        server.run(f"DROP DATABASE {name} WITH (FORCE)")


def _run(command: list[object]) -> None:
    done = subprocess.run(
        [str(word) for word in command],
        cwd="/",
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert done.returncode == 0, done.stderr
