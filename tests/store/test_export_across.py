"""A shop moves from SQLite to PostgreSQL and back, and is the same shop."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from tests import postgres

from endbell.store import Database, append
from endbell.store.exporting import dossier_called, export_to
from endbell.store.importing import import_export
from endbell.store.listing import Filters, ids_of

from .shops import BY, START, book_in, contents, empty, files_of, mark, stock

WAYS = [("sqlite", "postgresql"), ("postgresql", "sqlite"), ("postgresql", "postgresql")]


@pytest.fixture
def two(
    request: pytest.FixtureRequest, server: postgres.Server, tmp_path: Path
) -> Iterator[tuple[Database, Database]]:
    with ExitStack() as stack:
        opened: list[Database] = []
        for n, kind in enumerate(request.param):
            url = None
            if kind == "postgresql":
                url = server.url(stack.enter_context(postgres.database(server, "fresh")))
            opened.append(empty(tmp_path / str(n), url))
            stack.callback(opened[-1].close)
        yield opened[0], opened[1]


@pytest.mark.parametrize("two", WAYS, indirect=True, ids="-to-".join)
def test_a_shop_moved_to_another_database_is_the_same(
    two: tuple[Database, Database], tmp_path: Path
) -> None:
    shop, other = two
    stock(shop)
    export_to(shop, tmp_path / "all.zip", now=START)
    import_export(other, tmp_path / "all.zip")
    assert contents(other) == contents(shop)
    assert files_of(other) == files_of(shop)
    export_to(other, tmp_path / "again.zip", now=START)
    assert (tmp_path / "again.zip").read_bytes() == (tmp_path / "all.zip").read_bytes()
    stream = dossier_called(other, "TRV-1")
    assert stream is not None
    append(other, stream, [mark("ot", "993-1")], by=BY)
    book_in(other, "TRV-4")


@pytest.mark.parametrize("two", [("sqlite", "postgresql")], indirect=True, ids="-to-".join)
def test_what_comes_in_is_found_by_searching(
    two: tuple[Database, Database], tmp_path: Path
) -> None:
    shop, other = two
    ids = stock(shop)
    export_to(shop, tmp_path / "all.zip")
    import_export(other, tmp_path / "all.zip")
    for db in two:
        assert ids_of(db, Filters(words="992-5718")) == (ids[1],)
