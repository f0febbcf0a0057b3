"""Values between the packs' and the records': few records move little, many settle it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from endbell.chronology import Workspace
from endbell.chronology.weighing import posterior
from endbell.dossier import Dossier
from endbell.learning.records.fit import climb
from endbell.learning.records.intervals import learned
from endbell.learning.records.parameters import Scalar, Simplex, Space
from endbell.learning.records.passing import Course, Pass, Passes, Record
from endbell.learning.records.subjects import Subjects
from endbell.learning.records.sums import Sums, as_bytes, from_bytes
from endbell.reference import Reference

from .conftest import Draw, dossier, mark

POTS = ("lag.potentiometer.median_weeks", "lag.potentiometer.sigma")
RATE = "replaced.loudspeaker.probability"


def only(subjects: Subjects, *names: str) -> Subjects:
    """The same with some values to be learned alone."""
    chosen = tuple(s for s in subjects.space.scalars if s.name in names)
    return replace(subjects, space=Space(chosen, ()), supplies=(), features=())


def fitted(subjects: Subjects, dossiers: list[Dossier]):
    records = [Record(d) for d in dossiers]
    return climb(subjects.space, lambda theta: Pass(subjects, theta).sums(records), enough=1e-6)


def test_without_records_everything_stays_as_the_packs_say(subjects: Subjects) -> None:
    found = climb(subjects.space, lambda _: Sums.nothing(subjects.space.size))
    assert found.theta == pytest.approx(np.zeros(subjects.space.size), abs=1e-9)
    for value in learned(subjects.space, found):
        assert value.value == pytest.approx(value.pack)
        assert value.low < value.pack < value.high or value.pack in (value.low, value.high)
        assert value.records == 0
    for i, s in enumerate(subjects.space.scalars):
        assert found.sd[i] == pytest.approx(s.width)


def test_the_mode_is_the_one_that_a_plain_minimiser_finds(subjects: Subjects, draw: Draw) -> None:
    few = only(subjects, POTS[0], RATE)
    dossiers = draw(3, 12)
    found = fitted(few, dossiers)
    room = Workspace()

    def cost(theta: np.ndarray) -> float:
        values = {s.name: s.value(x) for s, x in zip(few.space.scalars, theta, strict=True)}
        evidence = sum(
            posterior(d, few.reference, values, workspace=room, slack=0.0).joint.log_evidence
            for d in dossiers
        )
        return -evidence - few.space.log_prior(theta)

    reference = minimize(cost, np.zeros(2), method="Nelder-Mead", options={"xatol": 1e-3})
    assert found.theta == pytest.approx(reference.x, abs=0.02 * found.sd.min())
    # the curvature there is what the intervals rest on
    for i in range(2):
        aside = found.theta + found.sd[i] * np.eye(2)[i]
        assert cost(aside) - reference.fun == pytest.approx(0.5, abs=0.2)


def test_few_records_move_little_and_many_settle_it(subjects: Subjects, draw: Draw) -> None:
    few = only(subjects, POTS[0])
    truth = np.log(30 / 14)
    dossiers = draw(4, 45, lag__potentiometer__median_weeks=30)
    with_pots = [d for d in dossiers if any(p.part_class == "potentiometer" for p in d.parts)]
    little, much = fitted(few, with_pots[:2]), fitted(few, with_pots)
    assert abs(little.theta[0]) < abs(much.theta[0])
    assert little.sd[0] > 2 * much.sd[0]
    assert abs(much.theta[0] - truth) < 3 * much.sd[0]
    assert much.last.sums.records[0] > 20


def test_a_verdict_is_learned_from_with_its_doubt(
    brackwater: Reference, subjects: Subjects
) -> None:
    """Pots that may as well be later ones say less of the lag than pots that are surely original."""
    rest = mark("chart", "chart-letters", "WM") + mark("pt", "source-date-code", "993-6415")
    sure = dossier(mark("pot-1", "source-date-code", "992-6410") + rest, brackwater)
    doubtful = dossier(mark("pot-1", "source-date-code", "992-6440") + rest, brackwater)
    zero = np.zeros(1)
    few = only(subjects, POTS[0])
    numbers = [Pass(few, zero).sums([Record(d)]).records[0] for d in (sure, doubtful)]
    assert numbers[1] < 0.8 * numbers[0] < 0.8


def test_many_rates_of_which_no_case_was_seen_are_not_unknown(
    brackwater: Reference, subjects: Subjects
) -> None:
    """Forty charts, none of them another's: the rate is known to be small, though nothing happened."""
    few = only(subjects, "replaced.chart.probability")
    pt = mark("pt", "source-date-code", "993-6415")
    one = dossier(pt + mark("chart", "chart-letters", "WM"), brackwater)
    found = climb(few.space, lambda theta: Pass(few, theta).sums([Record(one, 40)]))
    assert found.theta[0] < -0.3
    assert found.sd[0] < 0.9


def test_two_sets_of_packs_are_learned_from_together(
    subjects: Subjects, draw: Draw, brackwater: Reference
) -> None:
    course = Course({("brackwater",): subjects, (): only(subjects, *POTS)})
    assert course.disagreement() is None
    dossiers = draw(5, 4)
    bare = [replace(d, packs=()) for d in dossiers]
    zero = np.zeros(course.space.size)
    both = Passes(course, zero).sums([Record(d) for d in (*dossiers, *bare)])
    alone = Passes(course, zero).sums([Record(d) for d in dossiers])
    place = course.space.place()
    assert both.dossiers == 8
    assert both.slope[place[POTS[0]]] == pytest.approx(2 * alone.slope[place[POTS[0]]], rel=1e-9)
    assert both.slope[place[RATE]] == alone.slope[place[RATE]]


def test_sums_come_back_from_the_disk_as_they_were(subjects: Subjects, draw: Draw) -> None:
    families = subjects.space.families()
    sums = Pass(subjects, np.zeros(subjects.space.size)).sums([Record(d) for d in draw(6, 3)])
    back = from_bytes(as_bytes(sums, families), families)
    assert back.log_evidence == sums.log_evidence
    for places in families:
        block = np.ix_(places, places)
        assert np.array_equal(back.outer[block], sums.outer[block])


def test_shares_are_pooled_as_the_records_they_are_worth() -> None:
    """With n records of which k are the first, the share is (a p + k) / (a + n)."""
    space = Space((), (Simplex("s", ("x", "y"), (0.7, 0.3), 20.0, 0, "s"),))
    n, k = 30, 10

    def sums(theta: np.ndarray) -> Sums:
        q = space.simplices[0].shares(theta)
        each = np.array([[0.0 - q[1]]] * k + [[1.0 - q[1]]] * (n - k))
        return replace(
            Sums.nothing(1),
            dossiers=n,
            log_evidence=float(k * np.log(q[0]) + (n - k) * np.log(q[1])),
            slope=each.sum(axis=0),
            outer=each.T @ each,
            records=np.array([float(n)]),
        )

    found = climb(space, sums, enough=1e-10)
    first, _ = learned(space, found)
    assert first.value == pytest.approx((20 * 0.7 + k) / (20 + n), abs=1e-6)
    assert first.low < first.value < first.high


def test_a_scalar_says_its_value_on_its_scale() -> None:
    assert Scalar("a", "log", 10.0, 0.5, "f").value(np.log(2)) == pytest.approx(20.0)
    assert Scalar("a", "logit", 0.5, 1.0, "f").value(0.0) == pytest.approx(0.5)
    assert Scalar("a", "weeks", 0.0, 26.0, "f").value(-3.5) == -3.5
