"""What one look settles is found, set aside, and leaves room for two faults beside it."""

from __future__ import annotations

import pytest

from endbell.bench.causes.on_sheet import diagnose
from endbell.bench.causes.tables import faults, symptoms
from endbell.bench.lines import Judgement
from endbell.bench.stages import ORDER

from .amps import line, on_the_bench

OPEN = frozenset(ORDER)
HIGH, ODD, WITHIN = Judgement.HIGH, Judgement.ODD, Judgement.WITHIN
FLAGS = [line("cord-kind", ODD), line("fuse-fitted", HIGH), line("speaker-polarity", ODD)]


def test_three_plain_faults_and_a_dry_capacitor_are_all_found() -> None:
    off = [
        *FLAGS,
        line("hum", HIGH),
        line("ripple", HIGH, "A"),
        line("capacitor-esr", HIGH, "elco-1"),
    ]
    found = diagnose(off, on_the_bench(), OPEN)
    assert set(found.settled) == {"cord-two-wire", "fuse-wrong", "speaker-reversed"}
    p = {cause.fault: cause.p for cause in found.causes}
    assert all(p[name] > 0.9 for name in (*found.settled, "filter-dried"))
    assert found.unlisted < 0.1


def test_what_is_set_aside_changes_nothing_for_faults_it_has_nothing_to_do_with() -> None:
    off = [line("grid-volts", HIGH, "V3"), line("capacitor-leakage", HIGH, "cap-2")]
    alone = {c.fault: c.p for c in diagnose(off, on_the_bench(), OPEN).causes}
    beside = {c.fault: c.p for c in diagnose([*off, *FLAGS], on_the_bench(), OPEN).causes}
    assert beside["coupling-leaky"] == pytest.approx(alone["coupling-leaky"], abs=0.03)


def test_a_fault_by_definition_says_so() -> None:
    found = diagnose([line("fuse-fitted", HIGH)], on_the_bench(), OPEN)
    assert "by definition" in found.causes[0].says
    assert found.causes[0].fault == "fuse-wrong"


def test_hum_that_an_open_earth_may_bring_speaks_less_for_others() -> None:
    hum = [line("hum", HIGH)]
    without = {c.fault: c.p for c in diagnose(hum, on_the_bench(), OPEN).causes}
    beside = diagnose([*hum, line("earth-bond", HIGH)], on_the_bench(), OPEN)
    assert beside.settled == ("earth-open",)
    assert {c.fault: c.p for c in beside.causes}["ground-loop"] < without["ground-loop"]


def test_a_line_within_settles_nothing() -> None:
    found = diagnose([line("fuse-fitted", WITHIN), line("hum", HIGH)], on_the_bench(), OPEN)
    assert found.settled == ()
    assert "fuse-wrong" not in {cause.fault for cause in found.causes}


def test_what_settles_a_fault_is_a_symptom_that_it_nearly_always_brings() -> None:
    known = {symptom.id for symptom in symptoms()}
    assert {fault.settled_by for fault in faults() if fault.settled_by} <= known
    assert sum(bool(fault.settled_by) for fault in faults()) >= 3


def test_more_than_two_faults_beside_are_said_to_be_beyond_what_is_reckoned() -> None:
    off = [
        line("half-primary", HIGH, "V3"),
        line("winding-ohm", HIGH, "hv"),
        line("screen-volts", Judgement.LOW, "V4"),
        line("capacitor-leakage", HIGH, "cap-2"),
        line("winding-inductance", Judgement.LOW, "ot-primary"),
        line("capacitor-esr", HIGH, "elco-1"),
        line("pot-ohm", HIGH, "pot-1"),
    ]
    found = diagnose(off, on_the_bench(), OPEN)
    assert found.unlisted > 0.5
    assert "more than two" in found.says
