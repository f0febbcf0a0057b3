"""What a technician is told: causes in the order he would think of them, and what is safe next."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from endbell.bench.causes.on_sheet import as_json, diagnose, lines
from endbell.bench.causes.types import Cause, Diagnosis
from endbell.bench.kinds import line_kinds
from endbell.bench.lines import Judgement, Line
from endbell.bench.readings import Bench, Reading
from endbell.bench.stages import ORDER, Stage

from .amps import LANTERN, line, on_the_bench, output

HIGH, LOW, ODD, WITHIN = Judgement.HIGH, Judgement.LOW, Judgement.ODD, Judgement.WITHIN
OPEN = frozenset(ORDER)

STORIES: dict[str, list[Line]] = {
    "coupling-leaky": [
        line("grid-volts", HIGH, "V3"),
        line("grid-volts", WITHIN, "V4"),
        line("capacitor-leakage", HIGH, "cap-2"),
        line("plate-dissipation", HIGH, "V3"),
    ],
    "filter-dried": [
        line("hum", HIGH),
        line("ripple", HIGH, "A"),
        line("capacitor-esr", HIGH, "elco-1"),
        line("capacitor-leakage", WITHIN, "elco-1"),
    ],
    "rectifier-weak": [
        line("rail-volts", LOW, "A"),
        line("rail-volts", LOW, "B"),
        line("plate-volts", LOW, "V3"),
        line("plate-volts", LOW, "V4"),
        line("output-watt", LOW),
        line("ripple", WITHIN, "A"),
        line("limited-current", WITHIN),
        line("capacitor-leakage", WITHIN, "elco-1"),
        line("resistor-ohm", WITHIN, "R1"),
    ],
    "screen-resistor-open": [line("screen-volts", LOW, "V4"), line("balance", ODD, "V3+V4")],
    "ot-primary-open": [line("plate-volts", LOW, "V3"), line("half-primary", HIGH, "V3")],
    "earth-open": [line("earth-bond", HIGH)],
    "fuse-wrong": [line("fuse-fitted", HIGH)],
    "speaker-open": [line("speaker-re", HIGH)],
    "pot-worn": [line("pot-noise", HIGH, "pot-1"), line("pot-ohm", WITHIN, "pot-1")],
    "output-mismatched": [
        line("balance", HIGH, "V3+V4"),
        line("valve-operating-point", WITHIN, "V3"),
        line("valve-operating-point", WITHIN, "V4"),
        line("grid-volts", WITHIN, "V3"),
        line("grid-volts", WITHIN, "V4"),
        line("screen-volts", WITHIN, "V3"),
        line("screen-volts", WITHIN, "V4"),
    ],
    "preamp-microphonic": [line("noise", HIGH), line("tap-test", HIGH)],
    "heater-reference-open": [
        line("hum", HIGH),
        line("hum-order", LOW),
        line("heater-reference", HIGH),
    ],
}


@pytest.mark.parametrize("fault", STORIES)
def test_each_story_of_the_trade_names_its_fault_first(fault: str) -> None:
    found = diagnose(STORIES[fault], on_the_bench(), OPEN)
    assert found.causes[0].fault == fault, [(c.fault, round(c.p, 3)) for c in found.causes]


def test_where_nothing_is_off_there_is_nothing_to_explain() -> None:
    found = diagnose([line("hum", WITHIN), line("earth-bond", WITHIN)], on_the_bench(), OPEN)
    assert found.causes == ()
    assert "nothing to explain" in found.says


def test_a_limit_from_memory_and_an_impossible_reading_say_nothing() -> None:
    silent = [Judgement.CHECK, Judgement.NO_LIMIT, Judgement.IMPOSSIBLE, Judgement.NOT_MEASURED]
    before = diagnose([], on_the_bench(), OPEN)
    for judgement in silent:
        after = diagnose([line("hum", judgement)], on_the_bench(), OPEN)
        assert (after.no_fault, after.causes) == (before.no_fault, ())


def test_the_place_that_is_off_is_named_with_the_fault_and_the_one_that_is_not_is_not() -> None:
    found = diagnose(STORIES["coupling-leaky"], on_the_bench(), OPEN)
    assert "V3" in found.causes[0].at
    assert "V4" not in found.causes[0].at


def test_the_line_that_tells_most_is_told_first() -> None:
    best = diagnose(STORIES["coupling-leaky"], on_the_bench(), OPEN).causes[0]
    assert "cap-2, high, speaks very strongly for it." in best.speaks_for[0]
    assert all(said.endswith("for it.") for said in best.speaks_for)
    assert best.says.startswith(best.speaks_for[0])


def test_leakage_within_speaks_against_a_leaky_capacitor() -> None:
    off = [line("grid-volts", HIGH, "V3")]
    well = [*off, line("capacitor-leakage", WITHIN, "cap-2")]
    before, after = (
        the(diagnose(own, on_the_bench(), OPEN), "coupling-leaky") for own in (off, well)
    )
    assert before is not None and after is not None
    assert after.p < before.p / 2
    assert any("within" in said and "against" in said for said in after.speaks_against)


def test_something_that_is_not_in_the_list_always_has_its_share() -> None:
    found = diagnose([line("noise", HIGH)], on_the_bench(), OPEN)
    assert 0 < found.unlisted < 1
    assert f"{found.unlisted:.0%}" in found.says


def test_a_line_that_is_off_and_that_no_fault_brings_is_said_to_be_unexplained() -> None:
    found = diagnose([line("capacitor-margin", LOW, "elco-2")], on_the_bench(), OPEN)
    assert found.unexplained == ("capacitor-margin at elco-2",)
    assert any("capacitor-margin at elco-2" in note for note in found.notes)


def test_an_amp_without_reverb_or_tremolo_has_no_fault_of_them() -> None:
    ids = {c.fault for c in diagnose([line("reverb-decay", LOW)], on_the_bench(), OPEN).causes}
    assert not ids & {"reverb-tank-open", "reverb-drive-failed", "tremolo-weak"}


def test_fixed_bias_has_the_faults_of_a_bias_supply_and_cathode_bias_has_not() -> None:
    off = [line("rail-volts", LOW, "bias"), line("plate-dissipation", HIGH, "V3")]
    fixed = replace(LANTERN, seats=(output("V3", "V4", "fixed"), output("V4", "V3", "fixed")))
    assert the(diagnose(off, on_the_bench(fixed), OPEN), "bias-supply-failed") is not None
    assert the(diagnose(off, on_the_bench(), OPEN), "bias-supply-failed") is None


# ---- what is measured next


def waiting(kinds: dict[str, str]) -> list[Line]:
    return [line(kind, Judgement.NOT_MEASURED, at) for kind, at in kinds.items()]


TO_DO = waiting(
    {
        "capacitor-leakage": "cap-2",
        "pot-noise": "pot-1",
        "ripple": "A",
        "grid-volts": "V3",
        "hum": "",
        "earth-bond": "",
        "limited-current": "",
    }
)


@pytest.mark.parametrize("stages", [ORDER[:n] for n in range(len(ORDER) + 1)])
def test_only_what_is_safe_in_the_present_state_is_named_next(stages: tuple[Stage, ...]) -> None:
    found = diagnose(TO_DO, on_the_bench(), frozenset(stages))
    assert {step.stage for step in found.next} <= set(stages)
    assert bool(found.next) == bool(stages)


def test_a_line_may_be_allowed_by_its_name_alone() -> None:
    found = diagnose(TO_DO, on_the_bench(), {"hum"})
    assert [step.line for step in found.next] == ["hum"]


def test_a_line_that_is_not_among_the_lines_shown_is_never_named() -> None:
    found = diagnose(TO_DO[:2], on_the_bench(), OPEN)
    assert {step.line for step in found.next} <= {"capacitor-leakage", "pot-noise"}


def test_every_measurement_with_power_on_carries_its_caution() -> None:
    every = [line(kind, Judgement.NOT_MEASURED, "V3") for kind in line_kinds()]
    for kind in every:
        for step in diagnose([kind], on_the_bench(), OPEN).next:
            powered = line_kinds()[step.line].powered or step.stage.powered
            assert step.caution or not powered, step.line
            assert step.caution in step.says


def test_hum_asks_for_what_tells_its_causes_apart() -> None:
    todo = waiting({"ripple": "A", "hum-order": "", "speaker-re": "", "pot-noise": "pot-1"})
    found = diagnose([line("hum", HIGH), *todo], on_the_bench(), OPEN)
    assert found.next[0].line == "hum-order"
    assert all(step.gain_bits > 0 and step.settles for step in found.next)
    rates = [step.bits_per_minute for step in found.next]
    assert rates == sorted(rates, reverse=True)


# ---- the dossier's record


def p_of(fault: str, off: list[Line], bench: Bench) -> float:
    found = the(diagnose(off, bench, OPEN), fault)
    return found.p if found else 0.0


def test_an_original_electrolytic_of_sixty_years_is_likelier_dry_than_one_of_last_year() -> None:
    off = [line("hum", HIGH)]
    old = p_of("filter-dried", off, on_the_bench(elco_1=(0.97, 1962)))
    new = p_of("filter-dried", off, on_the_bench(elco_1=(0.02, 2025)))
    unknown = p_of("filter-dried", off, on_the_bench())
    assert old > unknown > new
    assert old > 3 * new


def test_a_valve_wears_whatever_the_dossier_says_of_its_year() -> None:
    off = [line("valve-operating-point", LOW, "V3")]
    told = [
        p_of("output-worn", off, on_the_bench(valve_1=(p, y)))
        for p, y in ((0.9, 1960), (0.1, 2025))
    ]
    assert told[0] == pytest.approx(told[1])


def test_what_the_record_did_is_said_with_the_cause() -> None:
    found = diagnose([line("hum", HIGH)], on_the_bench(elco_1=(0.97, 1962)), OPEN)
    cause = the(found, "filter-dried")
    assert cause is not None
    assert "elco-1" in cause.age and "1962" in cause.age and "assumption" in cause.age


def test_ages_are_counted_to_the_latest_dated_reading() -> None:
    bench = on_the_bench(elco_1=(0.97, 1962))
    early = replace(bench, readings=(Reading(1, "hum", "", "", None, on="1966-05-01"),))
    off = [line("hum", HIGH)]
    assert p_of("filter-dried", off, early) < p_of("filter-dried", off, bench) / 3


# ---- the checks by hand


def test_checks_by_hand_are_offered_and_judged() -> None:
    offered = {one.id: one for one in lines(on_the_bench())}
    assert offered["tap-test"].judgement is Judgement.NOT_MEASURED
    assert "tank-input-ohm" not in offered
    read = [
        Reading(1, "tap-test", "", "1", 1.0),
        Reading(2, "cone-push", "", "0", 0.0),
        Reading(3, "hum-order", "", "2", 2.0),
        Reading(4, "heater-reference", "", "1M", 1e6),
    ]
    told = {one.id: one.judgement for one in lines(replace(on_the_bench(), readings=tuple(read)))}
    assert told["tap-test"] is HIGH
    assert told["cone-push"] is WITHIN
    assert told["hum-order"] is HIGH
    assert told["heater-reference"] is HIGH


def test_the_diagnosis_is_written_as_json_with_places_as_text() -> None:
    told = as_json(diagnose([*STORIES["coupling-leaky"], *TO_DO], on_the_bench(), OPEN))
    again = json.loads(json.dumps(told))
    assert again["causes"][0]["at"].split(", ")[0] in {"V3", "cap-2"}
    assert again["next"][0]["says"]


def the(found: Diagnosis, fault: str) -> Cause | None:
    return next((cause for cause in found.causes if cause.fault == fault), None)
