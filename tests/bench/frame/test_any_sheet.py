"""Whatever is written on a sheet, it is computed, and no power comes before safety."""

from __future__ import annotations

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from endbell.bench.bench_places import known_places
from endbell.bench.circuit import Circuit
from endbell.bench.circuit_of import with_circuit
from endbell.bench.compute import compute
from endbell.bench.gates import is_powered
from endbell.bench.kinds import line_kinds
from endbell.bench.result_json import as_bytes
from endbell.bench.sheet import parse_sheet, sheet_of
from endbell.cli.bench import demo_sheets

MODELS = ("lantern-20", "lantern-20-reverb", "beacon-45", "wick-6")


def circuit(model: str) -> Circuit:
    return with_circuit(sheet_of({"circuit": f"brackwater/{model}"}))[1]


def reading(draw: st.DrawFn, drawn: Circuit) -> dict[str, object]:
    kind = draw(st.sampled_from([k for k in line_kinds().values() if k.measured]))
    places = known_places(drawn, kind.per) or ("",)
    span = kind.highest - kind.lowest
    value = draw(
        st.floats(kind.lowest, kind.highest)
        | st.floats(kind.lowest - span, kind.highest + span)
        | st.sampled_from([0.0, kind.lowest, kind.highest, -1.0, 1e-12, 250.0])
    )
    return {
        "line": kind.id,
        "at": draw(st.sampled_from(places)),
        "value": value,
        "after": draw(st.booleans()),
    }


@st.composite
def sheets(draw: st.DrawFn) -> dict[str, object]:
    model = draw(st.sampled_from(MODELS))
    drawn = circuit(model)
    return {
        "circuit": f"brackwater/{model}",
        "practice": draw(st.sampled_from(["iec", "iet", "vde", "us"])),
        "reading": [reading(draw, drawn) for _ in range(draw(st.integers(0, 25)))],
        "override": [
            {"line": draw(st.sampled_from(sorted(line_kinds()))), "by": "RT", "reason": "tried"}
            for _ in range(draw(st.integers(0, 6)))
        ],
    }


@pytest.mark.parametrize("model", MODELS)
def test_every_drawn_amp_without_a_reading_asks_for_the_cord_first(model: str) -> None:
    result = compute(*with_circuit(sheet_of({"circuit": f"brackwater/{model}"})))
    assert result.due[0] == ("cord-kind", "")
    assert not [line for line in result.lines if is_powered(line_kinds()[line.id])]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(sheets())
def test_any_readings_whatever_are_computed_and_hold_the_order(tables: dict[str, object]) -> None:
    result = compute(*with_circuit(sheet_of(tables)))
    assert json.loads(as_bytes(result))["format"] == "endbell-bench/1"
    kinds = line_kinds()
    if any(is_powered(kinds[line.id]) for line in result.lines):
        passed = {line.id for line in result.lines if line.judgement.value == "within"}
        let = {override.line for override in result.sheet.overrides}
        assert {"cord-kind", "line-capacitor", "filter-volts-left"} <= passed | let
        assert {"insulation", "fuse-fitted"} <= passed | let


@pytest.mark.parametrize(
    "line",
    [
        "cord-kind",
        "line-capacitor",
        "filter-volts-left",
        "earth-bond",
        "insulation",
        "fuse-fitted",
        "leakage-normal",
        "leakage-reversed",
    ],
)
def test_a_healthy_amp_less_one_safety_reading_is_not_powered(line: str) -> None:
    head, *parts = next(iter(demo_sheets().values())).split("[[reading]]\n")
    kept = [part for part in parts if f'line = "{line}"' not in part]
    assert len(kept) < len(parts)
    result = compute(*with_circuit(parse_sheet("[[reading]]\n".join([head, *kept]))))
    kinds = line_kinds()
    powered = {x.id for x in result.lines if is_powered(kinds[x.id])}
    assert all(x.startswith("leakage") for x in powered)
    assert not powered or line.startswith("leakage")
    early = {held.id for held in result.held if held.readings}
    assert {"limited-current", "rail-volts", "plate-volts"} <= early
