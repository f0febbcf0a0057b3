"""The guide has every line there is, and says what can hurt; a blank sheet is a sheet."""

from __future__ import annotations

import re
from pathlib import Path

from endbell.bench.compute import compute
from endbell.bench.gates import cautions_of, is_powered
from endbell.bench.kinds import line_kinds
from endbell.bench.lines_table import with_table
from endbell.bench.result import OVERRIDING
from endbell.bench.sheet import parse_sheet
from endbell.bench.sheet_blank import blank_readings, blank_sheet
from endbell.bench.stages import Stage

from .conftest import HEAD, rows, small_amp
from .test_gates import UNPOWERED

GUIDE = (Path(__file__).parents[3] / "docs" / "bench.md").read_text(encoding="utf-8")


def test_the_table_of_lines_in_the_guide_is_current() -> None:
    assert with_table(GUIDE) == GUIDE


def test_the_guide_warns_of_everything_that_can_hurt() -> None:
    for danger in ("high voltage", "stored charge", "mains", "heat", "weight"):
        assert re.search(rf"\*\*Caution:[^*]*{danger}", GUIDE), danger
    assert "Local codes and licensed practice override everything" in GUIDE


def test_every_stage_has_its_cautions() -> None:
    for stage in Stage:
        assert cautions_of(stage)


def test_a_blank_sheet_asks_for_the_unplugged_amp_with_its_cautions_and_for_no_power() -> None:
    text = blank_sheet(small_amp(), "brackwater/lantern-20", "B-1", "iet", "TRV-1")
    sheet = parse_sheet(text)
    assert sheet.problems == ()
    assert sheet.readings == ()
    plain = " ".join(text.replace("#", " ").split())
    for stage in (Stage.DISCHARGED, Stage.SAFETY):
        for caution in cautions_of(stage):
            assert caution in plain
    assert OVERRIDING in plain
    assert text.index("1. discharged -") < text.index("2. safety -")
    for kind in line_kinds().values():
        if is_powered(kind):
            assert f'"{kind.id}"' not in text, kind.id


def filled(text: str) -> str:
    """Blank readings with something written in each."""
    rows = re.sub(r"^# (\[\[reading\]\]|line = .*|at = .*)$", r"\1", text, flags=re.MULTILINE)
    some = 'result = "not-possible"\nnote = "x"'
    return re.sub(r'^# value = "".*$', some, rows, flags=re.MULTILINE)


def test_a_blank_sheet_filled_in_reads_as_one() -> None:
    sheet = parse_sheet(filled(blank_sheet(small_amp(), "brackwater/lantern-20", "B-1")))
    assert sheet.problems == ()
    asked = {reading.line for reading in sheet.readings}
    assert {"cord-kind", "earth-bond", "insulation", "filter-volts-left"} <= asked
    assert {r.at for r in sheet.readings if r.line == "filter-volts-left"} == {"c1", "c2"}


def test_what_may_be_measured_next_is_given_blank_what_gates_wait_for_first() -> None:
    start = compute(parse_sheet(HEAD), small_amp())
    assert [line for line, _ in asked(blank_readings(start))][:2] == ["cord-kind", "line-capacitor"]
    later = compute(parse_sheet(HEAD + rows(UNPOWERED)), small_amp())
    found = asked(blank_readings(later))
    assert found[:2] == [("leakage-normal", ""), ("leakage-reversed", "")]
    assert ("resistor-ohm", "r1") in found
    assert not {line for line, _ in found} & {"limited-current", "rail-volts", "earth-bond"}
    assert "Live work" in blank_readings(later)


def asked(text: str) -> list[tuple[str, str]]:
    """Line and place of every reading of a text of blank readings."""
    return [(r.line, r.at) for r in parse_sheet(HEAD + filled(text)).readings]
