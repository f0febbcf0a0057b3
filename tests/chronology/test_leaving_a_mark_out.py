"""Influence is exact: leaving a mark out equals weighing the dossier in which it was never made."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from endbell.chronology import weigh
from endbell.chronology.influence import information, without_mark
from endbell.chronology.weighing import posterior
from endbell.chronology.workspace import Workspace
from endbell.dossier import Dossier, Mark
from endbell.reference import Reference

from .amp import amp, code, joint, looks, paper, repair, stamped

PITCH = Mark(
    0, "cloth", "measured", quantity="weave-pitch", value=2.28, unit="mm", uncertainty=0.05
)


def nothing_found(part: str, kind: str) -> Mark:
    return Mark(0, part, kind, "", result="nothing-found")


def reduced(dossier: Dossier, n: int) -> Dossier:
    return replace(dossier, marks=tuple(m for m in dossier.marks if m.n != n))


def agree(dossier: Dossier, reference: Reference, workspace: Workspace) -> None:
    """Every mark left out of the joint, against the dossier without it weighed afresh."""
    full = posterior(dossier, reference, workspace=workspace)
    assert full.problems == ()
    for mark in dossier.marks:
        left, change = without_mark(full.joint, full.evidence, mark.n)
        fresh = posterior(reduced(dossier, mark.n), reference, workspace=workspace).joint
        assert np.abs(left - fresh.by_week).max() < 1e-10, mark
        assert change == pytest.approx(fresh.log_evidence - full.joint.log_evidence, abs=1e-8), mark


CASES: dict[str, tuple[Mark, ...]] = {
    "deliveries of several pots": (
        code("pot-1", "992-347"),
        code("pot-2", "992-347"),
        code("pot-3", "992-346"),
        code("pot-4", "992-3?7", "worn"),
        code("pot-5", "991-402"),
        code("pt", "993-340"),
    ),
    "letter codes and stamps on dated parts": (
        stamped("elco-1", "6344", "date-code"),
        stamped("elco-1", "63", "year-stamp"),
        stamped("elco-2", "A4", "date-code"),
        stamped("valve-1", "12-1-64", "hand-date"),
        code("valve-1", "997-401"),
        stamped("cap-1", "PAT. 2,900,000", "patent-number"),
    ),
    "two marks on a part": (
        code("pt", "993-340"),
        joint("pt", "joint-reflowed"),
        joint("pt", "screws-turned"),
        stamped("pt", "2-10-63", "hand-date"),
        code("ot", "993-341"),
        joint("ot", "dust-shadow"),
    ),
    "the last mark of a part": (
        code("pt", "993-340"),
        looks("badge", "badge-form", "brass-script"),
    ),
    "the only mark": (code("pt", "993-340"),),
    "features in one group on several parts": (
        looks("covering", "covering-colour", "grey-tweed"),
        looks("cloth", "cloth-pattern", "silver-thread"),
        looks("handle", "handle-form", "leather-strap"),
        looks("cab", "corner-hardware", "nickel-corners"),
        looks("faceplate", "faceplate-finish", "brushed-steel"),
        looks("knobs", "knob-colour", "ivory"),
        looks("knobs", "knob-shape", "ribbed-cap"),
        PITCH,
        code("pt", "993-340"),
    ),
    "a cabinet that may be another amp's": (
        code("pt", "993-340"),
        code("pot-1", "992-338"),
        stamped("cab", "3-5-58", "hand-date"),
        looks("covering", "covering-colour", "oxblood-cloth"),
        stamped("label", "PAT. 2,500,000", "patent-number"),
        looks("baffle", "loudspeaker-fixing", "bolts-through"),
        joint("cab", "extra-holes"),
        stamped("tank", "4-64", "hand-date"),
        looks("tank", "tank-case", "grey-hammered"),
    ),
    "a dated part in the cabinet": (
        code("pt", "993-340"),
        code("cab", "998-712"),
        looks("cab", "cabinet-joint", "rebate-and-pin"),
        looks("covering", "covering-colour", "black-pebble"),
    ),
    "papers": (
        code("pt", "993-340"),
        paper("1965-02-14"),
        paper("1967", "label"),
        paper("1964-05", "pt"),
        paper("1966-05", "cab"),
        looks("label", "label-form", "printed-two-colour"),
    ),
    "what the chassis says": (
        stamped("chassis", "LR 1731", "serial"),
        stamped("chassis", "5 0364", "year-stamp"),
        looks("chassis", "chassis-punch", "round-vents"),
        looks("chassis", "input-jacks", "four"),
        stamped("chart", "WF", "chart-letters"),
        code("pt", "993-350"),
    ),
    "loudspeakers by name and code": (
        code("sp-1", "995-402"),
        stamped("sp-1", "W12E", "model-designation"),
        joint("sp-1", "recone-seam"),
        stamped("sp-2", "Z12F", "model-designation"),
        code("sp-3", "995-402"),
        code("pt", "993-350"),
    ),
    "nothing found": (
        code("pt", "993-340"),
        nothing_found("cap-1", "date-code"),
        nothing_found("elco-1", "date-code"),
        nothing_found("chart", "chart-letters"),
        Mark(0, "ot", "source-date-code", "", result="illegible"),
    ),
    "parts that not every model has": (
        stamped("tank", "4-64", "hand-date"),
        code("rt", "993-402"),
        code("choke", "993-402"),
        paper("1965-02-14", "tank"),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_leaving_a_mark_out_equals_weighing_without_it(
    name: str, brackwater: Reference, workspace: Workspace
) -> None:
    agree(amp(CASES[name], brackwater, as_of=date(1972, 1, 1)), brackwater, workspace)


@pytest.mark.parametrize("name", ["deliveries of several pots", "papers", "two marks on a part"])
def test_also_where_no_pack_knows_a_model(
    name: str, common: Reference, workspace: Workspace
) -> None:
    marks = [m for m in CASES[name] if m.kind != "feature"]
    agree(amp(marks, common, as_of=date(1972, 1, 1)), common, workspace)


def test_also_for_the_marks_of_a_part_that_was_replaced_on_record(
    brackwater: Reference, workspace: Workspace
) -> None:
    marks = (
        code("pt", "993-340"),
        code("elco-1", "998-7112"),
        stamped("elco-1", "71", "year-stamp"),
        joint("elco-1", "joint-new-solder"),
        looks("handle", "handle-form", "moulded-bar"),
        code("pot-1", "992-338"),
        code("pot-2", "992-338"),
    )
    repairs = (repair("elco-1", "1971-05"), repair("handle", "1970"), repair("pot-2", "1971"))
    dossier = amp(marks, brackwater, repairs=repairs, as_of=date(1972, 1, 1))
    agree(dossier, brackwater, workspace)


@pytest.mark.parametrize(
    "name", ["deliveries of several pots", "a cabinet that may be another amp's"]
)
def test_the_influence_told_is_the_information_in_the_change(
    name: str, brackwater: Reference, workspace: Workspace
) -> None:
    dossier = amp(CASES[name], brackwater, as_of=date(1972, 1, 1))
    verdict = weigh(dossier, brackwater, looks=0, workspace=workspace)
    for told in verdict.marks:
        other = posterior(
            reduced(dossier, told.mark.n), brackwater, workspace=workspace
        ).joint.by_week
        p = verdict.build.weeks
        bits = float((p[p > 0] * np.log2(p[p > 0] / other[p > 0])).sum())
        assert told.influence_bits == pytest.approx(bits, abs=1e-9)


def test_a_part_without_its_only_mark_is_as_good_as_not_there(
    brackwater: Reference, workspace: Workspace
) -> None:
    dossier = amp(CASES["the last mark of a part"], brackwater)
    without = reduced(dossier, 2)
    gone = replace(without, parts=tuple(p for p in without.parts if p.id != "badge"))
    a = posterior(without, brackwater, workspace=workspace).joint.by_week
    b = posterior(gone, brackwater, workspace=workspace).joint.by_week
    assert np.abs(a - b).max() < 1e-14


def test_information_counts_bits() -> None:
    p = np.array([0.5, 0.5, 0.0, 0.0])
    assert information(p, np.full(4, 0.25)) == pytest.approx(1.0)
    assert information(p, p) == 0.0
    assert information(np.array([1.0, 0.0]), np.array([0.25, 0.75])) == pytest.approx(2.0)


def test_also_with_more_different_codes_than_are_summed_together(
    common: Reference, workspace: Workspace
) -> None:
    # half a year apart each: no two of them can have come in one delivery
    marks = [code(f"pot-{i}", f"992-{57 + i // 2}{(1, 27)[i % 2]:02d}") for i in range(1, 10)]
    agree(amp(marks, common, as_of=date(1972, 1, 1)), common, workspace)
