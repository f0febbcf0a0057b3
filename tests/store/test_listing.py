"""The shelf as the database gives it: filtered, sorted, paged, many changed at once."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import insert

from endbell.store import Change, Database, append, events_of, new_id, state_of
from endbell.store.bulk import bulk
from endbell.store.database import writing
from endbell.store.listing import Filters, ids_of, listed, tags_in_use
from endbell.store.tables import strips

from .shops import BY, book_in, mark


def weighed(db: Database, dossier: str, first: int, mode: int, last: int, p: float) -> None:
    """Keep a strip of the present version."""
    row: dict[str, Any] = {
        "dossier": dossier,
        "version": state_of(db, dossier).version,
        "made_by": "test",
        "says": f"{mode}",
        "sure": "settled" if p > 0.5 else "open",
        "first_year": first,
        "mode_year": mode,
        "last_year": last,
        "p_mode_year": p,
        "claim_p": p / 2,
        "conflicts": 1 if p > 0.5 else 0,
        "years": f"[[{mode},{p}]]",
        "strip": '{"p": 1}',
    }
    with writing(db) as connection:
        connection.execute(insert(strips).values(row))


@pytest.fixture
def shelf(db: Database) -> dict[str, str]:
    """Four amps by name: a, b, c, d."""
    made = {
        "a": book_in(db, "TRV-4", maker="brackwater", model="lantern-20"),
        "b": book_in(db, "TRV-3", maker="brackwater", model="beacon-45"),
        "c": book_in(db, "TRV-2", maker="brackwater", model="lantern-20"),
        "d": book_in(db, "TRV-1"),
    }
    append(db, made["a"], [mark("ot", "993-348")], by=BY)
    append(db, made["c"], [Change("tags-set", {"tags": ["window", "for sale"]})], by=BY)
    append(db, made["d"], [Change("closed")], by=BY)
    weighed(db, made["a"], 1962, 1964, 1965, 0.9)
    weighed(db, made["b"], 1953, 1957, 1968, 0.45)
    return made


@pytest.mark.parametrize(
    ("filters", "found"),
    [
        (Filters(), "dcab"),
        (Filters(closed=False), "cab"),
        (Filters(closed=True), "d"),
        (Filters(model="lantern-20"), "ca"),
        (Filters(maker="brackwater", purpose="buy"), "cab"),
        (Filters(purpose="sell"), ""),
        (Filters(tag="window"), "c"),
        (Filters(tag="win"), ""),
        (Filters(words="993-34"), "a"),
        (Filters(words="lantern", tag="for sale"), "c"),
        (Filters(words="…"), ""),
        (Filters(year_from=1966), "b"),
        (Filters(year_from=1954, year_to=1961), "b"),
        (Filters(year_to=1962), "ab"),
        (Filters(told=True), "a"),
        (Filters(told=False), "b"),
        (Filters(conflicts=True), "a"),
        (Filters(conflicts=False), "b"),
        (Filters(weighed=True), "ab"),
        (Filters(weighed=False), "dc"),
    ],
)
def test_what_passes_is_listed_last_changed_first(
    db: Database, shelf: dict[str, str], filters: Filters, found: str
) -> None:
    page = listed(db, filters)
    names = {dossier: name for name, dossier in shelf.items()}
    assert "".join(names[row.id] for row in page.rows) == found
    assert page.total == len(found)
    assert sorted(names[i] for i in ids_of(db, filters)) == sorted(found)


@pytest.mark.parametrize(
    ("sort", "down", "order"),
    [
        ("number", False, "dcba"),
        ("number", True, "abcd"),
        ("year", True, "abdc"),
        ("year", False, "badc"),
        ("sure", True, "abdc"),
        ("claim", False, "badc"),
        ("marks", True, "adcb"),
        ("nonsense", True, "dcab"),
    ],
)
def test_what_has_no_verdict_stands_last_whichever_way_it_is_sorted(
    db: Database, shelf: dict[str, str], sort: str, down: bool, order: str
) -> None:
    names = {dossier: name for name, dossier in shelf.items()}
    assert "".join(names[r.id] for r in listed(db, sort=sort, down=down).rows) == order


def test_a_row_says_what_is_kept_of_its_amp(db: Database, shelf: dict[str, str]) -> None:
    rows = {row.id: row for row in listed(db).rows}
    a, c = rows[shelf["a"]], rows[shelf["c"]]
    assert (a.number, a.model, a.marks, a.mode_year, a.years) == (
        "TRV-4", "lantern-20", 1, 1964, ((1964, 0.9),),
    )  # fmt: skip
    assert (a.sure, a.trouble, a.conflicts) == ("settled", False, 1)
    assert a.strip_version == a.version
    assert (c.tags, c.years, c.says) == (("for sale", "window"), (), "")
    assert (c.strip_version, c.conflicts) == (None, None)


def test_pages_follow_each_other(db: Database, shelf: dict[str, str]) -> None:
    first, second = listed(db, limit=3), listed(db, limit=3, offset=3)
    assert (len(first.rows), len(second.rows), first.total, second.total) == (3, 1, 4, 4)


def test_tags_in_use_are_counted(db: Database, shelf: dict[str, str]) -> None:
    append(db, shelf["a"], [Change("tags-set", {"tags": ["window"]})], by=BY)
    assert tags_in_use(db) == (("for sale", 1), ("window", 2))


def test_one_that_refuses_does_not_stop_the_others(db: Database, shelf: dict[str, str]) -> None:
    nobody, key = new_id(), new_id()
    tag = [Change("tags-set", {"tags": ["estate"]})]
    changes = {shelf["a"]: tag, nobody: tag, shelf["b"]: [*tag, Change("closed")]}
    for _ in range(2):  # sent twice, recorded once
        done = bulk(db, changes, by=BY, key=key)
        assert done.done == (shelf["a"], shelf["b"])
        assert list(done.refused) == [nobody]
    assert [e.kind for e in events_of(db, shelf["b"])] == ["opened", "tags-set", "closed"]
