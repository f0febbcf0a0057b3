"""What the shelf and the statistics count, the same in SQLite and in PostgreSQL."""

from __future__ import annotations

import pytest

from endbell.store import By, Change, Database, append, new_id, state_of
from endbell.store.shelf_rows import carry_strips, choices, current_strips
from endbell.store.statistics import counted
from endbell.web.strips_kept import keep
from endbell.web.weighed import Strip

BY = By("tests")


def amp(db: Database, number: str, model: str, p: float | None, word: str = "original") -> str:
    """A dossier with a mark and, given ``p``, a strip whose likeliest year has these odds."""
    made = new_id()
    row = {"part": "ot", "kind": "source-date-code", "text": "993-348"}
    changes = [
        Change("opened", {"number": number, "claim": {"maker": "brackwater", "model": model}}),
        Change("mark-set", {"mark": new_id(), "row": row}),
    ]
    append(db, made, changes, by=BY)
    if p is not None:
        parts = {"ot": (word, 0.5), "sp-1": ("replaced", 0.0)}
        strip = Strip(says="x", sure="settled", mode_year=1964, p_mode_year=p, parts=parts)
        keep(db, state_of(db, made), strip)
    return made


@pytest.fixture
def shelf(db: Database) -> dict[str, str]:
    """Three amps, the last not weighed."""
    return {
        "A": amp(db, "A", "wick-6", 0.95),
        "B": amp(db, "B", "wick-6", 0.2, "cannot tell"),
        "C": amp(db, "C", "beacon-45", None),
    }


def test_models_are_offered_with_how_many_there_are(db: Database, shelf: dict[str, str]) -> None:
    append(db, shelf["A"], [Change("closed")], by=BY)
    there = choices(db)
    assert there.models == (("brackwater", "beacon-45", 1), ("brackwater", "wick-6", 2))
    assert (there.open, there.closed) == (2, 1)


def test_an_empty_shelf_offers_nothing(db: Database) -> None:
    there = choices(db)
    assert (there.models, there.open, there.closed) == ((), 0, 0)
    assert counted(db).dossiers == 0
    assert counted(db).parts == ()


def test_a_strip_is_current_until_the_dossier_changes(db: Database, shelf: dict[str, str]) -> None:
    assert set(current_strips(db, list(shelf.values()))) == {shelf["A"], shelf["B"]}
    append(db, shelf["A"], [Change("note-set", {"note": "x"})], by=BY)
    assert set(current_strips(db, list(shelf.values()))) == {shelf["B"]}
    assert current_strips(db, []) == {}


def test_a_strip_is_carried_over_what_no_weighing_sees(db: Database, shelf: dict[str, str]) -> None:
    before = state_of(db, shelf["A"]).version
    append(db, shelf["A"], [Change("tags-set", {"tags": ["x"]})], by=BY)
    carry_strips(db, {shelf["A"]: before})
    assert shelf["A"] in current_strips(db, [shelf["A"]])
    # one that was behind already stays behind
    append(db, shelf["B"], [Change("note-set", {"note": "x"})], by=BY)
    now = state_of(db, shelf["B"]).version
    append(db, shelf["B"], [Change("closed")], by=BY)
    carry_strips(db, {shelf["B"]: now})
    assert current_strips(db, [shelf["B"]]) == {}


def test_certainty_parts_and_marks_are_counted(db: Database, shelf: dict[str, str]) -> None:
    counts = counted(db)
    assert [(m.model, m.count, m.sure, m.unweighed) for m in counts.models] == [
        ("wick-6", 2, (1, 0, 0, 1), 0),
        ("beacon-45", 1, (0, 0, 0, 0), 1),
    ]
    assert counts.parts == (
        ("ot", "cannot tell", 1),
        ("ot", "original", 1),
        ("sp-1", "replaced", 2),
    )
    assert counts.built == ((1964, 2),)
    assert counts.marks == (("ot", "source-date-code", 3, 0, 0),)
    assert counts.months[0][1:] == (3, 0)
