"""A sheet computed: the order of work, what cannot be, what a repair changed, what is overridden."""

from __future__ import annotations

from collections.abc import Callable

from endbell.bench.compute import compute
from endbell.bench.lines import Judgement
from endbell.bench.result import OVERRIDING, SheetResult
from endbell.bench.result_json import as_json
from endbell.bench.sheet import parse_sheet
from endbell.bench.stages import ORDER

from .conftest import SAFE, small_amp
from .test_gates import DC, LEAKAGE, LIMITED, UNPOWERED

SheetText = Callable[..., str]


def computed(text: str) -> SheetResult:
    return compute(parse_sheet(text, "amp.toml"), small_amp())


def test_lines_come_in_the_order_of_the_work(sheet_text: SheetText) -> None:
    result = computed(sheet_text({**DC, **LIMITED, **LEAKAGE, **UNPOWERED}))
    stages = [ORDER.index(line.stage) for line in result.lines]
    assert stages == sorted(stages)
    assert {line.stage for line in result.lines} >= set(ORDER[:4])


def test_every_report_says_that_local_codes_override(sheet_text: SheetText) -> None:
    for readings in ({}, SAFE):
        result = computed(sheet_text(readings))
        assert OVERRIDING in result.cautions
        assert as_json(result)["says"] == OVERRIDING
        assert "Local codes and licensed practice override" in OVERRIDING


def test_swapped_probes_are_shown_at_their_line_and_hold_what_waits_for_it(
    sheet_text: SheetText,
) -> None:
    result = computed(sheet_text({**UNPOWERED, "insulation": "-200M", **LEAKAGE}))
    line = result.line("insulation")
    assert line is not None
    assert line.judgement is Judgement.IMPOSSIBLE
    assert "swapped" in line.says
    assert line.bounds == ()
    assert result.line("leakage-normal") is None


def test_a_slip_measured_again_is_forgotten(sheet_text: SheetText) -> None:
    text = (
        sheet_text({"mains-volts": "-231 V"}) + '[[reading]]\nline = "mains-volts"\nvalue = 231\n'
    )
    line = computed(text).line("mains-volts")
    assert line is not None
    assert line.judgement is Judgement.WITHIN
    text = (
        sheet_text({"mains-volts": "231 V"}) + '[[reading]]\nline = "mains-volts"\nvalue = -231\n'
    )
    line = computed(text).line("mains-volts")
    assert line is not None
    assert line.judgement is Judgement.IMPOSSIBLE


def test_a_reading_at_a_place_the_circuit_does_not_have_is_said(sheet_text: SheetText) -> None:
    result = computed(sheet_text({"filter-volts-left@c3": "2 V", "filter-volts-left@C1": "2 V"}))
    (problem,) = result.problems
    assert 'no capacitor "c3"' in problem.found
    assert "c1, c2" in problem.accepted
    line = result.line("filter-volts-left", "c1")
    assert line is not None
    assert line.value == 2.0


def test_a_line_that_cannot_be_measured_says_why_and_does_not_pass(sheet_text: SheetText) -> None:
    missing = {k: v for k, v in UNPOWERED.items() if k != "insulation"}
    cannot = '[[reading]]\nline = "insulation"\nresult = "not-possible"\nnote = "tester away"\n'
    result = computed(sheet_text({**missing, **LEAKAGE}) + cannot)
    line = result.line("insulation")
    assert line is not None
    assert line.judgement is Judgement.NOT_MEASURED
    assert line.says == "Not possible: tester away."
    assert result.line("leakage-normal") is None


def test_what_the_repair_changed_is_told_line_by_line(sheet_text: SheetText) -> None:
    first = {**UNPOWERED, **LEAKAGE, "insulation": "0.2M"}
    again = {k: UNPOWERED[k] for k in ("earth-bond", "insulation")}
    result = computed(sheet_text(first, after=again))
    words = {change.line.id: change.word for change in result.changes}
    assert words["insulation"] == "put right"
    assert words["earth-bond"] == "held its own"
    assert "cord-kind" not in words
    now = result.line("insulation")
    assert now is not None
    assert now.judgement is Judgement.WITHIN


def test_a_line_that_was_right_and_is_off_after_the_repair_is_told(sheet_text: SheetText) -> None:
    result = computed(sheet_text(UNPOWERED, after={"earth-bond": "2 ohm"}))
    assert {c.line.id: c.word for c in result.changes}["earth-bond"] == "off now"


def test_a_recording_that_lies_elsewhere_or_nowhere_is_not_followed(sheet_text: SheetText) -> None:
    rows = "".join(
        f'[[recording]]\nkind = "sine"\nfile = "{name}"\n'
        for name in ("../a.wav", "/a.wav", "b.wav")
    )
    result = computed(sheet_text({}, rows))
    found = [p.found for p in result.problems]
    assert 'file is "../a.wav"' in found
    assert 'file is "/a.wav"' in found
    assert 'there is no file "b.wav"' in found


def test_a_line_that_nothing_computes_is_asked_for_and_held_against_its_limits(
    sheet_text: SheetText,
) -> None:
    asked = computed(sheet_text(UNPOWERED)).line("ground-joint")
    assert asked is not None
    assert asked.judgement is Judgement.NOT_MEASURED
    line = computed(sheet_text({**UNPOWERED, "ground-joint": "1.4 ohm"})).line("ground-joint")
    assert line is not None
    assert line.judgement is Judgement.HIGH
    assert "1.4 Ω" in line.says


def test_a_reverb_tank_is_asked_for_only_where_there_is_one(sheet_text: SheetText) -> None:
    assert computed(sheet_text(UNPOWERED)).line("tank-input-ohm") is None


def test_no_reading_is_dropped_without_a_word(sheet_text: SheetText) -> None:
    everything = {**UNPOWERED, **LEAKAGE, **LIMITED, **DC, "tank-input-ohm": "8 ohm"}
    result = computed(sheet_text(everything))
    told = {n for line in result.lines for n in line.readings}
    assert told == set(range(1, len(everything) + 1))
