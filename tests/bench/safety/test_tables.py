"""No fact without its source: the tables behind safety, transformers and components."""

from __future__ import annotations

from importlib.resources import files

import pytest

from endbell.bench.facts import Fact, fact, facts
from endbell.bench.kinds import line_kinds, line_subjects

SUBJECTS = ("safety", "transformers", "components")
TABLES = [
    (subject, item.name.removesuffix(".csv"))
    for subject in SUBJECTS
    for item in sorted(
        files("endbell.bench").joinpath("data", subject).iterdir(), key=lambda i: i.name
    )
]
WORDS = {"published", "from memory", "common practice, no source", "invented world", "computed"}
SURE = {"high", "medium", "low"}  # of the tables that say how a row was come by


@pytest.mark.parametrize(("subject", "table"), TABLES, ids=lambda one: str(one))
def test_every_row_says_where_it_is_from(subject: str, table: str) -> None:
    found = facts(subject, table)
    assert found
    for row in found:
        assert row["source"], row
        assert row["confidence"] in (SURE if "how" in row else WORDS), row
        assert None not in row and None not in row.values(), row


@pytest.mark.parametrize(("subject", "table"), TABLES, ids=lambda one: str(one))
def test_a_key_stands_once(subject: str, table: str) -> None:
    first = next(iter(facts(subject, table)[0]))
    keys = [_key(row, first) for row in facts(subject, table)]
    assert len(keys) == len(set(keys))


def _key(row: Fact, first: str) -> tuple[str, ...]:
    if "key" in row:
        return row["table"], row["key"], row["value"]
    return tuple(row[name] for name in (first, "meant", "rotation") if name in row)


def test_a_row_that_is_not_there_is_said() -> None:
    with pytest.raises(KeyError, match="no row 'nothing'"):
        fact("safety", "rules", "nothing")


def test_no_table_is_empty_of_use() -> None:
    assert len(TABLES) >= 18


@pytest.mark.parametrize("subject", SUBJECTS)
def test_every_kind_of_line_says_how_it_is_taken(subject: str) -> None:
    own = [line_kinds()[line] for line, of in line_subjects().items() if of == subject]
    assert own
    for kind in own:
        assert kind.how and kind.title and kind.source, kind.id
        assert kind.caution or not kind.powered, f"{kind.id}: mains is on and nothing is warned of"
        assert kind.measured == (kind.minutes > 0), kind.id
