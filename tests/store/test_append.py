"""What is recorded: every change once, in order, all of it or nothing, and nothing ever altered."""

from __future__ import annotations

import subprocess
import sys
import textwrap
from concurrent.futures import ThreadPoolExecutor

import pytest

from endbell.store import (
    SHOP,
    By,
    Change,
    ChangeRefused,
    Database,
    NoDossier,
    NumberTaken,
    append,
    events_of,
    new_id,
    state_of,
)
from endbell.store.events import digest_of

from .shops import BY, book_in, mark


def texts(db: Database, dossier: str) -> list[str]:
    return [m.row["text"] for m in state_of(db, dossier).standing]


def test_a_mark_is_kept_as_it_was_typed(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    typed = " 993-3?8 … [38] "
    append(db, dossier, [mark("ot", typed)], by=BY)
    assert texts(db, dossier) == [typed]


def test_what_is_sent_twice_is_recorded_once_and_answered_alike(db: Database) -> None:
    dossier, key = book_in(db, "TRV-1"), new_id()
    changes = [mark("ot", "993-348"), mark("pt", "993-401")]
    first = append(db, dossier, changes, by=BY, key=key)
    again = append(db, dossier, changes, by=BY, key=key)
    assert (first.repeated, again.repeated) == (False, True)
    assert again.events == first.events
    assert again.state == first.state
    assert texts(db, dossier) == ["993-348", "993-401"]


def test_of_several_changes_all_are_recorded_or_none(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    with pytest.raises(ChangeRefused, match="mark-set without 'row'"):
        append(db, dossier, [mark("ot", "993-348"), Change("mark-set", {"mark": "x"})], by=BY)
    assert len(events_of(db, dossier)) == 1


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (Change("mended", {}), "no change is called 'mended'; one of opened"),
        (Change("note-set", {"note": 3}), "note should be a text; found 3"),
        (Change("note-set", {"note": "a", "more": 1}), "carries note; found 'more'"),
        (Change("undone", {"n": True}), "n should be a whole; found True"),
        (Change("tags-set", {"tags": ["a", 1]}), "tags should be a texts"),
        (Change("opened", {"number": "TRV-2"}), "a dossier is opened once"),
        (Change("note-set", {"note": "half \ud800"}), "its data can't be written down"),
        (Change("mark-set", {"mark": "m", "row": {"value": float("nan")}}), "can't be written"),
        (Change("mark-set", {"mark": "m", "row": {"value": object()}}), "can't be written"),
        (Change("undone", {"n": 7}), "event 7 can't be undone: there is no such event"),
        (Change("undone", {"n": 1}), "event 1 can't be undone: it is 'opened'"),
        (Change("redone", {"n": 0}), "event 0 can't be redone: there is no such event"),
        (Change("view-saved", {"view": "v", "name": "n", "query": {}}), "no change is called"),
    ],
)
def test_a_change_that_can_not_be_is_refused_with_a_sentence(
    db: Database, change: Change, says: str
) -> None:
    dossier = book_in(db, "TRV-1")
    with pytest.raises(ChangeRefused) as refused:
        append(db, dossier, [change], by=BY)
    assert says in str(refused.value)
    assert len(events_of(db, dossier)) == 1


def test_nothing_is_recorded_of_a_dossier_that_was_never_opened(db: Database) -> None:
    with pytest.raises(NoDossier):
        append(db, new_id(), [mark("ot", "993-348")], by=BY)
    with pytest.raises(NoDossier):
        state_of(db, new_id())


def test_what_was_undone_comes_back_when_redone(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    entered = append(db, dossier, [mark("ot", "993-348")], by=BY)
    taken_back = append(db, dossier, [Change("undone", {"n": entered.events[0].n})], by=BY)
    assert taken_back.state is not None
    assert taken_back.state.standing == ()
    again = append(db, dossier, [Change("redone", {"n": entered.events[0].n})], by=BY)
    assert again.state is not None
    assert [m.row["text"] for m in again.state.standing] == ["993-348"]
    assert [e.kind for e in events_of(db, dossier)] == ["opened", "mark-set", "undone", "redone"]


def test_every_event_is_sealed_with_the_one_before_it(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    for code in ("993-348", "993-349", "993-350"):
        append(db, dossier, [mark("ot", code), mark("pt", code)], by=BY)
    before = ""
    for n, event in enumerate(events_of(db, dossier), start=1):
        assert event.n == n
        assert event.digest == digest_of(before, event)
        before = event.digest


def test_the_shop_has_a_record_of_its_own(db: Database) -> None:
    saved = append(
        db, SHOP, [Change("view-saved", {"view": "v", "name": "open", "query": {}})], by=BY
    )
    assert saved.state is None
    assert [e.kind for e in events_of(db, SHOP)] == ["view-saved"]


def test_many_hands_at_once_lose_nothing(db: Database) -> None:
    dossier = book_in(db, "TRV-1")

    def enter(n: int) -> None:
        append(db, dossier, [mark("ot", f"993-{n:03d}")], by=By(f"hand {n % 5}"))

    with ThreadPoolExecutor(8) as hands:
        list(hands.map(enter, range(60)))
    assert sorted(texts(db, dossier)) == [f"993-{n:03d}" for n in range(60)]
    assert [e.n for e in events_of(db, dossier)] == list(range(1, 62))


def test_the_same_key_sent_by_many_hands_at_once_is_recorded_once(db: Database) -> None:
    dossier, key = book_in(db, "TRV-1"), new_id()
    change = mark("ot", "993-348")
    with ThreadPoolExecutor(8) as hands:
        answers = list(
            hands.map(lambda _: append(db, dossier, [change], by=BY, key=key), range(16))
        )
    assert sum(not answer.repeated for answer in answers) == 1
    assert all(answer.events == answers[0].events for answer in answers)
    assert texts(db, dossier) == ["993-348"]


def test_two_processes_write_into_one_database(db: Database) -> None:
    dossier = book_in(db, "TRV-1")
    url = db.engine.url.render_as_string(hide_password=False)
    script = f"""
        import sys
        from pathlib import Path
        from endbell.store import By, Change, append, new_id, open_database
        db = open_database(Path({str(db.folder)!r}), {None if db.is_sqlite else url!r})
        for n in range(20):
            row = {{"part": "ot", "kind": "source-date-code", "text": f"{{sys.argv[1]}}-{{n}}"}}
            append(db, {dossier!r}, [Change("mark-set", {{"mark": new_id(), "row": row}})],
                   by=By(sys.argv[1]))
    """
    started = [
        subprocess.Popen([sys.executable, "-c", textwrap.dedent(script), who]) for who in "ab"
    ]
    assert [process.wait() for process in started] == [0, 0]
    assert sorted(texts(db, dossier)) == sorted(f"{who}-{n}" for who in "ab" for n in range(20))


def test_a_number_is_given_once(db: Database) -> None:
    book_in(db, "TRV-1")
    second = book_in(db, "TRV-2")
    with pytest.raises(NumberTaken, match="TRV-1 is the number of another amp"):
        book_in(db, "TRV-1")
    with pytest.raises(NumberTaken):
        append(db, second, [Change("head-set", {"keys": {"number": "TRV-1"}})], by=BY)
    assert state_of(db, second).number == "TRV-2"
