"""What was typed is found again by the beginning of any word of it, in either database."""

from __future__ import annotations

import pytest

from endbell.store import Change, Database, append, state_of
from endbell.store.listing import Filters, listed
from endbell.store.search import lines_with

from .shops import BY, book_in, mark


def search(db: Database, words: str, limit: int = 50, offset: int = 0) -> list[str]:
    """The dossiers that a search finds, last changed first."""
    return [r.id for r in listed(db, Filters(words=words), limit=limit, offset=offset).rows]


@pytest.fixture
def shelf(db: Database) -> dict[str, str]:
    first = book_in(db, "TRV-1", model="lantern-20", by="Größe & Söhne")
    append(
        db, first, [mark("ot", "993-348", note="bell, lower edge"), mark("pt", "993 401")], by=BY
    )
    second = book_in(db, "TRV-2", model="beacon-45")
    append(db, second, [mark("sp-1", "995-5738"), Change("note-set", {"note": "É"})], by=BY)
    append(db, second, [Change("tags-set", {"tags": ["window", "for sale"]})], by=BY)
    return {first: "first", second: "second"}


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("993", "first"),
        ("993-34", "first"),
        ("99334", "first"),
        ("993348", "first"),
        ("993-401", "first"),
        ("993401", "first"),
        ("995-57", "second"),
        ("lantern", "first"),
        ("GROSSE sohne", "first"),
        ("grösse", "first"),
        ("é", "second first"),
        ("lower edge 993", "first"),
        ("for sale", "second"),
        ("TRV", "second first"),
        ("trv-2", "second"),
        ("993 995", ""),
        ("348993", ""),
        ("  - … ", ""),
    ],
)
def test_every_word_is_a_beginning(
    db: Database, shelf: dict[str, str], words: str, found: str
) -> None:
    assert [shelf[dossier] for dossier in search(db, words)] == found.split()


@pytest.mark.parametrize("words", ["TRV", "for sale", "993-34", "lower edge 993", "993 995"])
def test_many_hits_are_found_by_another_way_and_are_the_same(
    db: Database, shelf: dict[str, str], words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    few = search(db, words)
    monkeypatch.setattr("endbell.store.search.MANY", 1)
    assert search(db, words) == few


def test_a_hit_says_where_the_words_stand(db: Database, shelf: dict[str, str]) -> None:
    (found,) = search(db, "lower 993")
    assert lines_with(db, [found], "lower 993") == {found: "ot: 993-348, bell, lower edge"}


@pytest.mark.parametrize(
    "odd",
    ['"', "'", "a AND b", "NOT", "a*b", "(((", "col:993", "^993", "NEAR(a b)", "\\", "%", "_", ";--",
     "🔥", "x" * 5_000, "a " * 400, "\x00993", "'; DROP TABLE search; --", "993 & !995 | (", "<->"],
)  # fmt: skip
def test_nothing_in_a_search_is_an_operator(db: Database, shelf: dict[str, str], odd: str) -> None:
    assert len(search(db, odd)) <= 2
    assert len(search(db, "993")) == 1


def test_a_withdrawn_mark_is_found_no_more_and_an_undone_withdrawal_again(
    db: Database, shelf: dict[str, str]
) -> None:
    first = next(iter(shelf))
    (marked, _) = state_of(db, first).standing
    gone = append(db, first, [Change("mark-withdrawn", {"mark": marked.id})], by=BY)
    assert search(db, "993-348") == []
    append(db, first, [Change("undone", {"n": gone.events[0].n})], by=BY)
    assert len(search(db, "993-348")) == 1


def test_pages_of_hits_follow_each_other(db: Database) -> None:
    for n in range(7):
        book_in(db, f"TRV-{n}")
    pages = [search(db, "trv", limit=3, offset=offset) for offset in (0, 3, 6)]
    assert [len(page) for page in pages] == [3, 3, 1]
    assert len({dossier for page in pages for dossier in page}) == 7
