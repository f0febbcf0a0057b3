"""Nothing that needs power is shown before its safety lines pass or are overridden by name."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from endbell.bench.compute import compute
from endbell.bench.gates import is_powered, needs_of, needs_of_stage
from endbell.bench.kinds import line_kinds
from endbell.bench.lines import Judgement
from endbell.bench.result import SheetResult
from endbell.bench.sheet import parse_sheet
from endbell.bench.stages import ORDER, Stage

from .conftest import SAFE, rows, small_amp

SheetText = Callable[..., str]

LEFT = {"filter-volts-left@c1": "2 V", "filter-volts-left@c2": "<1 V"}
UNPOWERED = {k: v for k, v in (SAFE | LEFT).items() if not k.startswith("leakage")}
LEAKAGE = {k: v for k, v in SAFE.items() if k.startswith("leakage")}
LIMITED = {
    "limited-mains-volts": "60 V",
    "limited-current": "0.1 A",
    "limited-rail@B1": "85 V",
    "limited-rail@B2": "83 V",
}
DC = {"mains-volts": "231 V", "rail-volts@B1": "355 V", "rail-volts@B2": "341 V"}
OFF = {
    "cord-kind": "2",
    "line-capacitor": "1",
    "filter-volts-left@c1": "180 V",
    "earth-bond": "3 ohm",
    "insulation": "0.2M",
    "fuse-fitted": "10 A",
    "leakage-normal": "9 mA",
    "leakage-reversed": "9 mA",
}


def computed(text: str, protection: str = "I") -> SheetResult:
    return compute(parse_sheet(text), small_amp(protection))


def powered(result: SheetResult) -> set[str]:
    kinds = line_kinds()
    return {line.id for line in result.lines if is_powered(kinds[line.id])}


def override(line: str, reason: str = "seen, and tried on the tester") -> str:
    return f'\n[[override]]\nline = "{line}"\nby = "RT"\nreason = "{reason}"\n'


def test_for_every_subset_of_the_safety_readings_power_waits_for_all_of_them(
    sheet_text: SheetText,
) -> None:
    names = tuple(UNPOWERED)
    for size in range(len(names) + 1):
        for chosen in combinations(names, size):
            have = {name: UNPOWERED[name] for name in chosen}
            result = computed(sheet_text({**DC, **LIMITED, **LEAKAGE, **have}))
            if size == len(names):
                assert {"leakage-normal", "limited-current", "rail-volts"} <= powered(result)
            else:
                assert powered(result) == set(), chosen


@pytest.mark.parametrize("name", OFF)
def test_one_safety_line_that_is_off_holds_everything_that_needs_power_after_it(
    sheet_text: SheetText, name: str
) -> None:
    result = computed(sheet_text({**UNPOWERED, **LEAKAGE, **LIMITED, **DC, name: OFF[name]}))
    late = {"limited-current", "limited-rail", "limited-mains-volts", "rail-volts", "ripple"}
    assert not powered(result) & late
    if not name.startswith("leakage"):
        assert powered(result) == set()
    assert result.stage(Stage.DC).state == "waits"


def test_a_reading_taken_too_early_is_kept_flagged_and_not_judged(sheet_text: SheetText) -> None:
    result = computed(sheet_text({"cord-kind": "3", **DC}))
    held = next(h for h in result.held if (h.id, h.at) == ("rail-volts", "B1"))
    assert held.readings == (3,)
    assert {wait.line for wait in held.waits_for} >= {"earth-bond", "insulation", "leakage-both"}
    assert result.line("rail-volts", "B1") is None
    assert any(
        "rail-volts at B1: taken before its safety lines passed" in said for said in result.remarks
    )


def test_leakage_taken_too_early_does_not_open_the_next_stage(sheet_text: SheetText) -> None:
    without_bond = {k: v for k, v in UNPOWERED.items() if k != "earth-bond"}
    result = computed(sheet_text({**without_bond, **LEAKAGE, **LIMITED}))
    both = result.line("leakage-both")
    assert both is None or both.judgement is Judgement.NOT_MEASURED


def test_limited_mains_comes_before_full_mains(sheet_text: SheetText) -> None:
    result = computed(sheet_text({**UNPOWERED, **LEAKAGE, **DC}))
    assert "limited-current" in powered(result)
    assert "rail-volts" not in powered(result)
    result = computed(sheet_text({**UNPOWERED, **LEAKAGE, **LIMITED, **DC}))
    assert "rail-volts" in powered(result)


def test_a_line_overridden_by_name_opens_what_waited_for_it_alone(sheet_text: SheetText) -> None:
    missing = {k: v for k, v in UNPOWERED.items() if k != "insulation"}
    held = computed(sheet_text({**missing, **LEAKAGE}))
    assert powered(held) == set()
    result = computed(sheet_text({**missing, **LEAKAGE}, override("insulation")))
    assert "leakage-normal" in powered(result)
    state = result.stage(Stage.SAFETY)
    assert [(let.line, let.override.by) for let in state.overridden] == [("insulation", "RT")]
    assert any("insulation was let pass by RT: seen" in said for said in result.remarks)


@pytest.mark.parametrize("reason", ["", "   ", "-", "..."])
def test_an_override_without_a_reason_opens_nothing(sheet_text: SheetText, reason: str) -> None:
    missing = {k: v for k, v in UNPOWERED.items() if k != "insulation"}
    result = computed(sheet_text({**missing, **LEAKAGE}, override("insulation", reason)))
    assert powered(result) == set()
    assert any(problem.header == "override" for problem in result.problems)


def test_an_override_without_a_name_opens_nothing(sheet_text: SheetText) -> None:
    missing = {k: v for k, v in UNPOWERED.items() if k != "insulation"}
    nobody = '\n[[override]]\nline = "insulation"\nby = " "\nreason = "trust me"\n'
    assert powered(computed(sheet_text({**missing, **LEAKAGE}, nobody))) == set()


def test_an_override_at_one_place_leaves_the_other_places_to_be_measured(
    sheet_text: SheetText,
) -> None:
    missing = {k: v for k, v in UNPOWERED.items() if not k.startswith("filter")}
    at_c1 = override("filter-volts-left") + 'at = "c1"\n'
    result = computed(sheet_text({**missing, **LEAKAGE}, at_c1))
    assert powered(result) == set()
    assert {
        w.at for w in result.stage(Stage.SAFETY).waits_for if w.line == "filter-volts-left"
    } == {"c2"}


def test_overriding_a_stage_lets_pass_its_own_lines_and_no_others(sheet_text: SheetText) -> None:
    stage = '\n[[override]]\nstage = "safety"\nby = "RT"\nreason = "tested next door, ticket 12"\n'
    nothing_discharged = computed(sheet_text({**LEAKAGE, **LIMITED}, stage))
    assert powered(nothing_discharged) == set()
    discharged = {
        k: v
        for k, v in UNPOWERED.items()
        if line_kinds()[k.partition("@")[0]].stage is Stage.DISCHARGED
    }
    result = computed(sheet_text({**discharged, **LIMITED, **DC}, stage))
    assert {"limited-current", "rail-volts"} <= powered(result)


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_power_is_shown_exactly_where_each_line_has_passed_or_is_overridden(
    data: st.DataObject,
) -> None:
    head = 'format = "endbell-sheet/1"\ncircuit = "brackwater/lantern-20"\npractice = "iet"\n'
    have: dict[str, str] = {}
    let: set[str] = set()
    missing: set[str] = set()
    for name, good in UNPOWERED.items():
        line = name.partition("@")[0]
        how = data.draw(st.sampled_from(["good", "good", "good", "off", "none"]), label=name)
        if how != "none":
            have[name] = OFF.get(name, good) if how == "off" else good
        if how == "none" or (how == "off" and name in OFF):
            missing.add(line)
        if data.draw(st.integers(0, 3), label=f"override {name}") == 0:
            let.add(line)
    text = head + rows({**have, **LEAKAGE, **LIMITED, **DC}) + "".join(map(override, sorted(let)))
    allowed = missing <= let
    assert ("leakage-normal" in powered(computed(text))) is allowed
    if not allowed:
        assert powered(computed(text)) == set()


def test_an_amp_without_earth_is_not_asked_for_its_bond(sheet_text: SheetText) -> None:
    unearthed = {k: v for k, v in UNPOWERED.items() if k != "earth-bond"} | {"insulation": ">50M"}
    small = {"leakage-normal": "0.1 mA", "leakage-reversed": "0.1 mA"}
    waits = computed(sheet_text({**unearthed, **small}), "II").stage(Stage.LIMITED).waits_for
    assert "earth-bond" not in {wait.line for wait in waits}
    waits = computed(sheet_text({**unearthed, **small}), "I").stage(Stage.LIMITED).waits_for
    assert "earth-bond" in {wait.line for wait in waits}


def test_after_a_repair_the_safety_lines_are_measured_again_before_power(
    sheet_text: SheetText,
) -> None:
    before = {**UNPOWERED, **LEAKAGE, **LIMITED, **DC}
    result = computed(sheet_text(before, after={"rail-volts@B1": "349 V"}))
    assert result.line("rail-volts", "B1") is None
    assert any("measured again" in said for said in result.remarks)
    again = {k: UNPOWERED[k] for k in ("earth-bond", "insulation", *LEFT)} | LEAKAGE
    result = computed(sheet_text(before, after={**again, "rail-volts@B1": "349 V"}))
    line = result.line("rail-volts", "B1")
    assert line is not None
    assert line.value == pytest.approx(349.0)


def test_a_powered_kind_that_names_no_needs_is_held_all_the_same() -> None:
    for kind in line_kinds().values():
        if is_powered(kind):
            needs = {need.line for need in needs_of(kind)}
            assert {"cord-kind", "earth-bond", "insulation", "filter-volts-left"} <= needs, kind.id


def test_what_lines_need_exists_and_comes_no_later_and_never_waits_for_itself() -> None:
    kinds = line_kinds()
    needs = {kind.id: {n.line for n in needs_of(kind)} for kind in kinds.values()}

    def reach(start: str) -> set[str]:
        seen: set[str] = set()
        todo = [start]
        while todo:
            for need in needs[todo.pop()] - seen:
                seen.add(need)
                todo.append(need)
        return seen

    for kind in kinds.values():
        for need in needs[kind.id]:
            assert need in kinds, (kind.id, need)
            assert ORDER.index(kinds[need].stage) <= ORDER.index(kind.stage), (kind.id, need)
        assert kind.id not in reach(kind.id), kind.id


def test_each_stage_asks_for_everything_the_stage_before_it_asked_for() -> None:
    for earlier, later in pairwise(ORDER):
        assert set(needs_of_stage(earlier)) <= set(needs_of_stage(later))


def test_what_gates_wait_for_is_due_in_the_order_of_the_work(sheet_text: SheetText) -> None:
    nothing = computed(sheet_text({}))
    assert nothing.due[:2] == (("cord-kind", ""), ("line-capacitor", ""))
    assert ("filter-volts-left", "c2") in nothing.due
    assert not [line for line, _ in nothing.due if is_powered(line_kinds()[line])]
    assert computed(sheet_text(UNPOWERED)).due == (("leakage-normal", ""), ("leakage-reversed", ""))
    limited = computed(sheet_text({**UNPOWERED, **LEAKAGE})).due
    assert limited[0] == ("limited-mains-volts", "")
    assert ("limited-rail", "B2") in limited
    stopped = computed(sheet_text({**UNPOWERED, "insulation": "0.2M"}))
    assert stopped.due == ()


def test_after_a_repair_what_has_to_be_repeated_is_due(sheet_text: SheetText) -> None:
    before = {**UNPOWERED, **LEAKAGE, **LIMITED, **DC}
    due = computed(sheet_text(before, after={"rail-volts@B1": "349 V"})).due
    # insulation comes once the capacitors are found discharged again
    assert {line for line, _ in due} == {"filter-volts-left", "earth-bond"}
    again = {"rail-volts@B1": "349 V", **{k: UNPOWERED[k] for k in ("earth-bond", *LEFT)}}
    assert computed(sheet_text(before, after=again)).due == (("insulation", ""),)
