"""The tables of lines and limits: every row says what it is, where it comes from and how sure."""

from __future__ import annotations

import pytest

from endbell.bench.gates import is_powered
from endbell.bench.kinds import line_kinds, line_subjects
from endbell.bench.limits import PRACTICES, bounds_for, limits
from endbell.bench.lines import Bound, Judgement, judged
from endbell.bench.subjects import SUBJECTS, lines_of

CONFIDENCE = {
    "published",
    "common practice, no source",
    "from memory",
    "invented world",
    "computed",
}


def test_every_subject_is_there_and_has_lines() -> None:
    assert all(lines_of(subject) is not None for subject in SUBJECTS)
    assert set(SUBJECTS) <= set(line_subjects().values())


def test_every_line_says_how_it_is_measured_and_where_that_comes_from() -> None:
    for kind in line_kinds().values():
        assert kind.title, kind.id
        assert kind.how, kind.id
        assert kind.source, kind.id
        assert kind.confidence in CONFIDENCE, kind.id
        assert kind.minutes >= 0, kind.id


def test_every_line_that_is_read_with_mains_on_has_a_caution() -> None:
    for kind in line_kinds().values():
        if kind.powered and kind.measured:
            assert kind.caution, kind.id


def test_every_limit_is_of_a_line_in_its_unit_with_source_and_confidence() -> None:
    kinds = line_kinds()
    for limit in limits():
        assert limit.line in kinds, limit.id
        assert limit.unit == kinds[limit.line].unit, limit.id
        assert limit.practice in ("", *PRACTICES), limit.id
        assert limit.bound.title, limit.id
        assert limit.bound.source, limit.id
        assert limit.bound.confidence in CONFIDENCE, limit.id
        low, high = limit.bound.low, limit.bound.high
        assert low is None or high is None or low < high, limit.id


def test_no_two_limits_have_one_id() -> None:
    ids = [limit.id for limit in limits()]
    assert len(ids) == len(set(ids))


def test_a_limit_is_asked_for_by_practice_and_protection_class() -> None:
    (iet,) = bounds_for("insulation", "iet", "I")
    assert iet.low == pytest.approx(1e6)
    (two,) = bounds_for("insulation", "iet", "II")
    assert two.low == pytest.approx(2e6)
    assert bounds_for("insulation", "iet", "IV") == ()
    assert bounds_for("no-such-line", "iet", "I") == ()


def test_a_limit_from_memory_says_so_and_never_passes_a_line() -> None:
    memory = [limit.bound for limit in limits() if limit.bound.confidence == "from memory"]
    assert memory
    for bound in memory:
        assert "from memory" in bound.source
        inside = bound.low if bound.low is not None else bound.high
        assert judged(inside, (bound,)) is Judgement.CHECK
    published = Bound(None, 1.0, "one", "a book", "published")
    assert judged(2.0, (published, *memory)) is Judgement.HIGH


def test_leakage_is_never_asked_for_before_power_is_allowed() -> None:
    assert is_powered(line_kinds()["leakage-normal"])
    assert is_powered(line_kinds()["leakage-reversed"])
