"""The order in which marks were made never matters; what says nothing changes nothing."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from endbell.chronology import weigh
from endbell.chronology.workspace import Workspace
from endbell.dossier import Mark
from endbell.reference import Reference

from .amp import amp, code, joint, looks, paper, part_of, quantile, stamped
from .asking import date_of

MIXED = (
    code("pot-1", "992-347"),
    code("pot-2", "992-3?7", "worn"),
    code("pot-3", "991-402"),
    code("pt", "993-340"),
    joint("pt", "joint-untouched"),
    code("sp-1", "995-712"),
    stamped("elco-1", "6344", "date-code"),
    looks("covering", "covering-colour", "grey-tweed"),
    looks("handle", "handle-form", "moulded-bar"),
    looks("knobs", "knob-shape", "skirted"),
    stamped("label", "U.S. PAT. 2,900,000", "patent-number"),
    paper("1967-05-04"),
    stamped("cab", "12-1-64", "hand-date"),
    stamped("chart", "WB", "chart-letters"),
)


@pytest.mark.parametrize("seed", range(4))
def test_the_order_of_marks_never_matters(
    seed: int, brackwater: Reference, workspace: Workspace
) -> None:
    shuffled = list(MIXED)
    random.Random(seed).shuffle(shuffled)
    first = weigh(amp(MIXED, brackwater), brackwater, looks=0, workspace=workspace)
    second = weigh(amp(shuffled, brackwater), brackwater, looks=0, workspace=workspace)
    assert np.abs(first.build.weeks - second.build.weeks).max() < 1e-12
    assert first.log_evidence == pytest.approx(second.log_evidence, abs=1e-9)
    for p in first.parts:
        q = part_of(second, p.part)
        assert abs(p.original - q.original) < 1e-12
        assert abs(p.period_replacement - q.period_replacement) < 1e-12
    assert {m.model: round(m.p, 11) for m in first.models} == {
        m.model: round(m.p, 11) for m in second.models
    }


@pytest.mark.parametrize("result", ["illegible", "not-possible"])
@pytest.mark.parametrize(
    ("part", "kind"),
    [
        ("pot-4", "source-date-code"),
        ("pt", "source-date-code"),
        ("chassis", "serial"),
        ("label", "label-text"),
        ("tank", "hand-date"),
        ("chart", "chart-letters"),
        ("sp-1", "model-designation"),
        ("choke", "condition"),
    ],
)
def test_a_mark_that_can_not_be_read_changes_nothing(
    part: str, kind: str, result: str, brackwater: Reference, workspace: Workspace
) -> None:
    silent = Mark(0, part, kind, "", result=result)
    before = date_of(amp(MIXED, brackwater), brackwater, workspace)
    after = date_of(amp([*MIXED, silent], brackwater), brackwater, workspace)
    assert np.abs(before - after).max() < 1e-14


def test_a_part_that_nothing_was_seen_of_has_its_prior_only(
    common: Reference, workspace: Workspace
) -> None:
    silent = Mark(0, "choke", "source-date-code", "", result="illegible")
    verdict = weigh(
        amp([code("pt", "993-6340"), silent], common), common, looks=0, workspace=workspace
    )
    rho = verdict.assumptions["replaced.choke.probability"]
    assert part_of(verdict, "choke").original == pytest.approx(1 - rho, abs=1e-12)
    assert verdict.marks[1].influence_bits == 0.0
    assert verdict.marks[1].conflict is None


LATER = {
    "a younger transformer": code("ot", "993-6420"),
    "a younger loudspeaker": code("sp-1", "995-6423"),
    "a younger capacitor": stamped("cap-1", "6422", "date-code"),
    "a patent of 1964": stamped("label", "PAT. 3,120,000", "patent-number"),
    "a postcode from 1963 on": stamped("label", "PORT ELLERY, OHIO 44101", "label-text"),
}


@pytest.mark.parametrize("name", LATER)
def test_a_mark_that_can_only_be_later_moves_the_interval_later(
    name: str, common: Reference, workspace: Workspace
) -> None:
    base = [code("pt", "993-6340"), code("pot-1", "992-6336")]
    before = date_of(amp(base, common), common, workspace)
    after = date_of(amp([*base, LATER[name]], common), common, workspace)
    for q in (0.025, 0.25, 0.5):
        assert quantile(after, q) >= quantile(before, q)
    assert quantile(after, 0.5) > quantile(before, 0.5)


def test_older_papers_move_the_interval_earlier(common: Reference, workspace: Workspace) -> None:
    base = [code("pt", "993-340")]
    before = date_of(amp(base, common), common, workspace)
    after = date_of(amp([*base, paper("1957-03-01")], common), common, workspace)
    assert quantile(after, 0.5) < quantile(before, 0.5)


def test_who_wrote_a_mark_down_and_where_changes_nothing(
    common: Reference, workspace: Workspace
) -> None:
    base = [code("pt", "993-340"), code("pot-1", "992-336")]
    dressed = [
        replace(m, place="bell", by="RT", on=date(1975, 5, 1), photos=("a.jpg",), note="dull")
        for m in base
    ]
    before = date_of(amp(base, common), common, workspace)
    after = date_of(amp(dressed, common), common, workspace)
    assert np.array_equal(before, after)
