"""What was done at the bench, told in the history of the amp."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from endbell.store import Event
from endbell.web.history_lines import Line, history


def told(*changes: tuple[str, Mapping[str, Any]]) -> list[Line]:
    events = [Event(1, "d", 1, "2026-03-02", "RT", "", "opened", {"number": "TRV-1"}, "k1")]
    for n, (kind, data) in enumerate(changes, start=2):
        events.append(Event(n, "d", n, "2026-03-02", "RT", "", kind, data, f"k{n}"))
    return list(reversed(history(events, {}, {})))[1:]


def test_a_reading_is_told_with_its_place_and_the_figure_as_typed() -> None:
    row = {"line": "rail-volts", "at": "B1", "value": "352", "unit": "V", "by": "RT"}
    line = told(("reading-set", {"reading": "r", "row": row}))[0]
    assert (line.does, line.what) == ("measured", "rail-volts at B1: 352 V")
    assert line.changes == (("by", "", "RT"),)


def test_a_reading_measured_again_shows_what_stood_before() -> None:
    first, second = ({"line": "earth-bond", "value": v} for v in ("0.3", "0.06"))
    lines = told(
        ("reading-set", {"reading": "r", "row": first}),
        ("reading-set", {"reading": "r", "row": second}),
    )
    assert lines[1].changes == (("value", "0.3", "0.06"),)


def test_an_override_is_told_with_the_name_and_the_reason() -> None:
    row = {"line": "insulation", "by": "Tomas Bench", "reason": "the tester is away"}
    line = told(("override-given", {"override": "o", "row": row}))[0]
    assert (line.does, line.what) == ("let pass", "insulation: the tester is away (Tomas Bench)")


def test_what_was_withdrawn_is_still_named() -> None:
    row = {"part": "ot", "by_what": "a new one"}
    lines = told(
        ("replaced-set", {"replaced": "p", "row": row}),
        ("replaced-withdrawn", {"replaced": "p", "reason": "another amp"}),
        ("undone", {"n": 3}),
    )
    assert [line.what for line in lines[:2]] == [
        "ot: by a new one",
        "ot: by a new one: another amp",
    ]
    assert lines[1].undone


def test_bags_are_told_with_whoever_took_them() -> None:
    row = {"bags": ["1", "2"], "to": "A. Customer"}
    line = told(("bags-handed-over", {"handover": "h", "row": row}))[0]
    assert line.what == "bag 1, 2 to A. Customer"


def test_a_changed_head_shows_the_keys_that_changed() -> None:
    lines = told(
        ("sheet-head-set", {"keys": {"practice": "vde"}}),
        ("sheet-head-set", {"keys": {"practice": "iec", "by": "RT"}}),
    )
    assert lines[1].changes == (("practice", "vde", "iec"), ("by", "", "RT"))
