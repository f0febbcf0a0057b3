"""The tables of the causes: whole, honest about where they come from, and of one piece."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from endbell.bench.causes.fitted import can_have
from endbell.bench.causes.tables import (
    UNLISTED,
    faults,
    links,
    measured_by,
    measurings,
    symptoms,
    whole_network,
)
from endbell.bench.facts import facts
from endbell.bench.kinds import line_kinds
from endbell.bench.limits import bounds_for
from endbell.bench.lines import Judgement

from .amps import LANTERN

ROOT = Path(__file__).parents[3]
TABLES = ("faults", "symptoms", "links", "measurements", "classes", "scopes", "assumptions")
OFF = {Judgement.LOW, Judgement.HIGH, Judgement.ODD}


def test_there_are_faults_and_symptoms_enough_to_be_of_use() -> None:
    assert len(faults()) >= 40
    assert len(symptoms()) >= 60


@pytest.mark.parametrize("table", TABLES)
def test_every_row_says_where_it_comes_from_and_none_claims_to_be_published(table: str) -> None:
    for row in facts("causes", table):
        assert row["source"]
        assert row["confidence"] in {"assumption", "common practice, no source", "from memory"}


@pytest.mark.parametrize("table", ["faults", "symptoms"])
def test_no_id_stands_twice(table: str) -> None:
    ids = [row["id"] for row in facts("causes", table)]
    assert len(ids) == len(set(ids))


def test_no_link_stands_twice_and_each_joins_a_fault_and_a_symptom_that_are_there() -> None:
    pairs = [(link.fault, link.symptom) for link in links()]
    assert len(pairs) == len(set(pairs))
    assert {fault for fault, _ in pairs} == {fault.id for fault in faults()}
    assert {symptom for _, symptom in pairs} == {symptom.id for symptom in symptoms()} | {"*"}
    assert {link.reach for link in links()} <= {"one", "all"}


def test_every_symptom_is_a_known_kind_of_line_that_is_off_and_can_be_measured() -> None:
    for symptom in symptoms():
        assert set(symptom.lines) <= line_kinds().keys()
        assert symptom.judgements
        assert symptom.judgements <= OFF
        assert measured_by(symptom)
    for measuring in measurings():
        assert {*measuring.lines, *(line for line, _ in measuring.brings)} <= line_kinds().keys()


def test_no_two_faults_look_the_same() -> None:
    rows = whole_network().strength
    seen = {tuple(row) for row in rows}
    assert len(seen) == len(rows)


def test_every_fault_has_a_symptom_that_it_mostly_brings() -> None:
    rows = {f.id: row.max() for f, row in zip(faults(), whole_network().strength, strict=True)}
    assert {name for name, most in rows.items() if most < 0.7} == {UNLISTED}


def test_every_fault_says_what_to_do_and_its_needs_are_understood() -> None:
    classes = {row["class"] for row in facts("causes", "classes")}
    for fault in faults():
        assert fault.remedy.endswith(".")
        assert fault.part_class in classes
        assert can_have(LANTERN, fault.needs) in {True, False}


def test_a_need_that_is_no_word_of_the_table_is_refused() -> None:
    with pytest.raises(ValueError, match="no circuit is asked"):
        can_have(LANTERN, "a moving coil")


def test_the_printed_checklist_names_measurements_that_the_tables_know() -> None:
    text = (ROOT / "docs" / "bench_checklist.md").read_text(encoding="utf-8")
    steps = re.findall(r"^\| (\d+) \| `([^`]+)`", text, re.MULTILINE)
    assert [int(n) for n, _ in steps] == list(range(1, len(steps) + 1))
    known = {(line, m.scope) for m in measurings() for line in m.lines}
    known |= {("limited-mains-volts", "")}  # nothing shows in it; it comes before what does
    named = [tuple(key.partition("@")[::2]) for _, key in steps]
    assert set(named) <= known
    assert len(named) == len(set(named))


def test_every_check_by_hand_has_a_limit_and_every_powered_one_its_caution() -> None:
    own = [row["id"] for row in facts("lines", "causes")]
    for name in own:
        kind = line_kinds()[name]
        assert kind.caution or not kind.powered
        assert name == "hum-order" or bounds_for(name, "iec", "")
        assert kind.needs or not kind.powered
