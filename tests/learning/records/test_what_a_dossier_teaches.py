"""A dossier's say on every value is the exact derivative of its log evidence."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from endbell.chronology import Workspace, assumptions_in_force
from endbell.chronology.expected import expected
from endbell.chronology.weighing import posterior
from endbell.dossier import Dossier
from endbell.learning.records.passing import Pass, Record
from endbell.learning.records.subjects import Subjects, subjects_of
from endbell.reference import Reference

from .conftest import AS_OF, dossier, look, mark

SEVERAL_POTS = (
    mark("pot-1", "source-date-code", "992-341")
    + mark("pot-2", "source-date-code", "992-341")
    + mark("pot-3", "source-date-code", "992-342")
    + mark("pot-4", "source-date-code", "9914?8", "worn")
    + mark("pt", "source-date-code", "993-333")
    + mark("chart", "chart-letters", "WF")
    + look("chassis", "wire-covering", "plastic")
)
MARRIED_CABINET = (
    mark("ot", "source-date-code", "994-6350", "worn")
    + mark("sp-1", "source-date-code", "997-640")
    + mark("sp-1", "model-designation", "Z12D")
    + look("covering", "covering-colour", "black-pebble")
    + look("cloth", "cloth-pattern", "dark-check")
    + look("badge", "badge-form", "brass-script")
    + mark("cab", "hand-date", "11-64")
)
KNOWN_REPAIR = (
    '[[repair]]\npart = "elco-1"\ndone = "1971-05"\nreplaced = true\n'
    + mark("elco-1", "date-code", "7104", "poor")
    + mark("ot", "source-date-code", "993-8?4", "poor")
    + look("chassis", "chassis-punch", "double-slot")
    + look("faceplate", "faceplate-lettering", "printed-block")
    + look("faceplate", "faceplate-finish", "brushed-steel")
)
TYPED = {"pots": SEVERAL_POTS, "cabinet": MARRIED_CABINET, "repair": KNOWN_REPAIR}


@pytest.fixture(scope="module", params=TYPED)
def one(request: pytest.FixtureRequest, brackwater: Reference) -> Dossier:
    return dossier(TYPED[request.param], brackwater)


@pytest.fixture(scope="module")
def room() -> Workspace:
    return Workspace()


def log_evidence(d: Dossier, subjects: Subjects, theta: np.ndarray, room: Workspace) -> float:
    reference, assume = subjects.applied(theta)
    return posterior(d, reference, assume, workspace=room, slack=0.0).joint.log_evidence


def test_lags_rates_shares_and_digits_move_the_evidence_as_the_counts_say(
    one: Dossier, subjects: Subjects, room: Workspace
) -> None:
    zero = np.zeros(subjects.space.size)
    found = Pass(subjects, zero).sums([Record(one)])
    place, h = subjects.space.place(), 1e-4
    numbers = [place[s.name] for s in subjects.space.scalars if s.scale != "weeks"]
    shares = [i for part in subjects.space.slices() for i in range(part.start, part.stop)]
    spoken = [i for i in numbers + shares[::7] if abs(found.slope[i]) > 1e-9]
    assert len(spoken) > 10
    for i in spoken:
        up, down = zero.copy(), zero.copy()
        up[i], down[i] = h, -h
        change = log_evidence(one, subjects, up, room) - log_evidence(one, subjects, down, room)
        assert found.slope[i] == pytest.approx(change / (2 * h), abs=1e-5)


def test_a_change_of_supplier_or_feature_moves_the_evidence_as_the_counts_say(
    one: Dossier, subjects: Subjects, room: Workspace
) -> None:
    zero = np.zeros(subjects.space.size)
    found = Pass(subjects, zero).sums([Record(one)])
    place = subjects.space.place()

    def change(i: int, weeks: int) -> float:
        up, down = zero.copy(), zero.copy()
        up[i], down[i] = weeks, -weeks
        ends = log_evidence(one, subjects, up, room), log_evidence(one, subjects, down, room)
        return (ends[0] - ends[1]) / (2 * weeks)

    edges = [place[s.name] for s in subjects.space.scalars if s.scale == "weeks"]
    spoken = [i for i in edges if abs(found.slope[i]) > 1e-4]
    assert spoken
    for i in spoken:
        # edges stand on whole weeks: the slope between one and two weeks, carried on to none
        slope = (4 * change(i, 1) - change(i, 2)) / 3
        assert found.slope[i] == pytest.approx(slope, rel=2e-3, abs=2e-5)


def test_a_part_is_counted_once_whatever_it_may_be(one: Dossier, subjects: Subjects) -> None:
    reference, assume = subjects.applied(np.zeros(subjects.space.size))
    post = posterior(one, reference, assume)
    found = expected(post)
    parts = [p for p in one.parts if p.id in {m.part for m in one.marks}]
    asked = sum(f.asked for f in found.fates.values())
    known = [r.part for r in one.repairs]
    assert asked == pytest.approx(len(parts) - len(known), abs=0.05 * len(parts))
    for name, numbers in found.lags.items():
        # an original delivery brought at least one part, no more than there are
        assert 0 < numbers.sum() <= sum(p.part_class == name for p in parts) + 1e-6


def test_the_claim_has_no_say(one: Dossier, subjects: Subjects) -> None:
    claimed = replace(one, claim=replace(one.claim, model="beacon-45", original=("everything",)))
    zero = np.zeros(subjects.space.size)
    plain = Pass(subjects, zero).sums([Record(one)])
    with_claim = Pass(subjects, zero).sums([Record(claimed)])
    assert np.array_equal(plain.slope, with_claim.slope)


def test_equal_patterns_counted_once_give_the_same_sums(one: Dossier, subjects: Subjects) -> None:
    zero = np.zeros(subjects.space.size)
    thrice = Pass(subjects, zero).sums([Record(one)] * 3)
    counted = Pass(subjects, zero).sums([Record(one, 3)])
    assert counted.dossiers == thrice.dossiers == 3
    for name in ("slope", "outer", "curve", "records"):
        assert np.allclose(getattr(counted, name), getattr(thrice, name), rtol=1e-12, atol=1e-15)


def test_digits_of_a_worn_code_are_all_counted(brackwater: Reference, subjects: Subjects) -> None:
    body = mark("ot", "source-date-code", "993-348", "worn") + mark("chart", "chart-letters", "WF")
    reference, assume = subjects.applied(np.zeros(subjects.space.size))
    found = expected(posterior(dossier(body, brackwater), reference, assume))
    table = found.digits["worn"]
    assert table.sum() == pytest.approx(6, abs=1e-4)
    assert table[:, 9].sum() == pytest.approx(2, abs=1e-4)  # seen as 9, whatever was struck
    assert table[9, 9] > 1.9


def test_loudspeakers_of_another_amp_are_counted_in_that_amp(
    brackwater: Reference, room: Workspace
) -> None:
    """Both accounts of an assembly, each with its weeks and stock ages, make up the derivative."""
    assume = assumptions_in_force(brackwater, {"married.speakers.probability": 0.3})
    subjects = subjects_of(brackwater, assume, AS_OF)
    one = dossier(
        mark("sp-1", "source-date-code", "99?-6351")
        + mark("sp-2", "source-date-code", "995-702", "worn")
        + mark("cab", "hand-date", "3-65")
        + mark("ot", "source-date-code", "993-6430"),
        brackwater,
    )
    zero = np.zeros(subjects.space.size)
    found = Pass(subjects, zero).sums([Record(one)])
    place, h = subjects.space.place(), 1e-4
    names = [
        "married.speakers.probability",
        "married.cabinet.probability",
        "replaced.loudspeaker.probability",
        "replaced.period_share",
        "lag.loudspeaker.median_weeks",
        "lag.loudspeaker.old_stock_weight",
        "supply.loudspeaker.shares.1",
    ]
    for i in (place[name] for name in names):
        up, down = zero.copy(), zero.copy()
        up[i], down[i] = h, -h
        change = log_evidence(one, subjects, up, room) - log_evidence(one, subjects, down, room)
        assert abs(found.slope[i]) > 1e-4
        assert found.slope[i] == pytest.approx(change / (2 * h), abs=1e-5)
