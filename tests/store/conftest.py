"""An empty database for a test, once in SQLite and once in a real PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from tests import postgres

from endbell.store import Database, open_database

BOTH = ("sqlite", "postgresql")


@pytest.fixture(scope="session")
def server() -> Iterator[postgres.Server]:
    """A PostgreSQL with a database 'fresh' that has all tables and nothing in them."""
    with postgres.running() as made:
        made.run("CREATE DATABASE fresh TEMPLATE template0 ENCODING 'UTF8'")
        open_database(made.folder / "photos-of-fresh", made.url("fresh")).close()
        yield made


@pytest.fixture(params=BOTH)
def db(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """An empty database with all its tables."""
    with ExitStack() as stack:
        url = None
        if request.param == "postgresql":
            server: postgres.Server = request.getfixturevalue("server")
            url = server.url(stack.enter_context(postgres.database(server, "fresh")))
        opened = open_database(tmp_path / "shop", url)
        stack.callback(opened.close)
        yield opened
