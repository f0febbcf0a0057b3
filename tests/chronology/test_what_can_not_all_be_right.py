"""Marks that can't all be right, and assumptions that a verdict leans on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pytest

from endbell.chronology import Verdict, weigh
from endbell.chronology.sets import highest_density
from endbell.chronology.stability import changed
from endbell.chronology.weeks import thursday
from endbell.chronology.workspace import Workspace
from endbell.dossier import Mark
from endbell.reference import Reference

from .amp import amp, claim, code, stamped

SOLID = (
    code("pt", "993-6340"),
    code("ot", "993-6343"),
    code("pot-1", "992-6338"),
    code("pot-2", "992-6338"),
)


def p_all_original(
    marks: tuple[Mark, ...], parts: list[str], reference: Reference, workspace: Workspace
) -> float:
    dossier = amp(marks, reference, claim=claim(original=parts))
    told = weigh(dossier, reference, looks=0, workspace=workspace).claim
    assert told is not None and told.p is not None
    return told.p


def test_a_later_loudspeaker_can_not_be_right_by_itself(
    common: Reference, workspace: Workspace
) -> None:
    marks = (*SOLID, code("sp-1", "995-7123"))
    verdict = weigh(amp(marks, common), common, looks=0, workspace=workspace)
    (conflict,) = verdict.conflicts
    assert conflict.marks == (5,) and "mark 5 (sp-1)" in conflict.says
    direct = p_all_original(marks, ["sp-1"], common, workspace)
    assert conflict.p_all_right == pytest.approx(direct, rel=1e-9)


def test_two_that_contradict_can_not_both_be_right(common: Reference, workspace: Workspace) -> None:
    # either may be the replaced one, or very old stock: neither is out by itself
    marks = (code("pt", "993-4920"), code("ot", "993-6343"))
    verdict = weigh(amp(marks, common), common, looks=0, workspace=workspace)
    (conflict,) = verdict.conflicts
    assert conflict.marks == (1, 2)
    direct = p_all_original(marks, ["pt", "ot"], common, workspace)
    assert conflict.p_all_right == pytest.approx(direct, rel=1e-9)


def test_every_set_told_is_below_the_bar_and_no_smaller_set_is_inside(
    common: Reference, workspace: Workspace
) -> None:
    marks = (
        *SOLID,
        code("choke", "993-5820"),
        code("pot-3", "992-5810"),
        code("sp-1", "995-7123"),
        stamped("cap-1", "7001", "date-code"),
    )
    verdict = weigh(amp(marks, common), common, looks=0, workspace=workspace)
    bar = verdict.assumptions["conflict.p_all_right"]
    assert verdict.conflicts
    sets = [set(c.marks) for c in verdict.conflicts]
    for c in verdict.conflicts:
        assert c.p_all_right < bar and 1 <= len(c.marks) <= 3
        assert not any(s < set(c.marks) for s in sets)
        parts = [marks[n - 1].part for n in c.marks]
        assert c.p_all_right == pytest.approx(
            p_all_original(marks, parts, common, workspace), rel=1e-8
        )
    order = [(len(c.marks), c.p_all_right) for c in verdict.conflicts]
    assert order == sorted(order)


def test_parts_that_are_hardly_ever_original_are_no_conflict(
    common: Reference, workspace: Workspace
) -> None:
    valves = tuple(stamped(f"valve-{i}", f"{66 + i}12", "date-code") for i in range(1, 4))
    verdict = weigh(amp((*SOLID, *valves), common), common, looks=0, workspace=workspace)
    told = [c for c in verdict.conflicts if len(c.marks) > 1]
    assert not told


def test_a_worn_digit_that_explains_it_is_no_conflict_alone_but_is_with_its_text(
    common: Reference, workspace: Workspace
) -> None:
    # a 3 that may be an 8: as typed it is five years off
    clear = weigh(
        amp((*SOLID, code("choke", "993-6840")), common), common, looks=0, workspace=workspace
    )
    worn = weigh(
        amp((*SOLID, code("choke", "993-6840", "poor")), common),
        common,
        looks=0,
        workspace=workspace,
    )
    p_clear = next(c.p_all_right for c in clear.conflicts if c.marks == (5,))
    p_worn = next(c.p_all_right for c in worn.conflicts if c.marks == (5,))
    assert p_worn < 0.01 and p_clear < 0.01
    original = {p.part: p.original for p in worn.parts}
    assert original["choke"] > 0.5  # misread rather than swapped


# -- stability -----------------------------------------------------------------------------------------

SUBJECTS = ("lags", "replacement odds", "marriage odds", "stock-age spread")


@dataclass(frozen=True)
class Shape:
    """What stability looks at in a verdict."""

    words: dict[str, str]
    years: set[int]
    first: int
    last: int


def shape_of(verdict: Verdict) -> Shape:
    p = verdict.build.weeks
    held = highest_density(p, 0.95)
    mass = np.bincount([thursday(w).year for w in range(p.size)], weights=p)
    years = {y for y in {thursday(int(w)).year for w in held} if mass[y] > 0.02}
    return Shape({q.part: q.word for q in verdict.parts}, years, int(held[0]), int(held[-1]))


AMPS = {
    "solid": SOLID,
    "open": (code("pt", "993-340"), code("ot", "993-343"), code("sp-1", "995-402")),
    "in doubt": (
        code("pt", "993-6340"),
        code("sp-1", "995-6210"),
        stamped("elco-1", "6520", "date-code"),
    ),
    "cabinet": (*SOLID, stamped("cab", "62", "year-stamp")),
}


@pytest.mark.parametrize("name", AMPS)
def test_what_a_verdict_leans_on_is_what_halving_and_doubling_changes(
    name: str, common: Reference, workspace: Workspace
) -> None:
    dossier = amp(AMPS[name], common, as_of=date(1970, 1, 1))
    base = weigh(dossier, common, looks=0, workspace=workspace)
    before = shape_of(base)
    expected: list[tuple[str, float, str]] = []
    for subject in SUBJECTS:
        for factor in (0.5, 2.0):
            assume = changed(base.assumptions, subject, factor)
            after = shape_of(weigh(dossier, common, assume, looks=0, workspace=workspace))
            expected += [
                (subject, factor, p) for p, w in before.words.items() if after.words[p] != w
            ]
            expected += [(subject, factor, str(y)) for y in sorted(after.years - before.years)]
            expected += [(subject, factor, str(y)) for y in sorted(before.years - after.years)]
            expected += [(subject, factor, "start")] * (abs(after.first - before.first) > 26)
            expected += [(subject, factor, "end")] * (abs(after.last - before.last) > 26)
    told = [(u.assumption, u.factor, u.what) for u in base.unstable]
    assert len(told) == len(expected)
    for (a, f, what), (b, g, word) in zip(told, expected, strict=True):
        assert (a, f) == (b, g) and word in what
    assert base.stable == (not told)
    wobbly = {word for _, _, word in expected}
    assert all(p.stable == (p.part not in wobbly) for p in base.parts)


def test_halving_odds_halves_odds_and_lags_scale_their_medians_only() -> None:
    values = {
        "lag.valve.median_weeks": 10.0,
        "lag.valve.sigma": 0.7,
        "replaced.valve.probability": 0.9,
        "replaced.period_share": 0.15,
        "replaced.chassis.probability": 0.0,
        "married.cabinet.probability": 0.05,
        "stock_age.sigma": 0.35,
        "service.median_weeks": 20.0,
    }
    assert changed(values, "lags", 2.0) == {**values, "lag.valve.median_weeks": 20.0}
    assert changed(values, "stock-age spread", 0.5) == {**values, "stock_age.sigma": 0.175}
    odds = changed(values, "replacement odds", 2.0)
    assert odds["replaced.valve.probability"] == pytest.approx(18 / 19)
    assert odds["replaced.chassis.probability"] == 0.0 and odds["replaced.period_share"] == 0.15
    assert changed(values, "marriage odds", 0.5)["married.cabinet.probability"] == pytest.approx(
        1 / 39
    )
