"""Serial numbers against dates: rising, pooled towards the pack's line, sure where records are."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import isotonic_regression
from sklearn.isotonic import IsotonicRegression

from endbell.chronology.weeks import week_of
from endbell.learning.records.passing import Pass, Record
from endbell.learning.records.serial import SerialRecord, binned, curve, line, rows_of
from endbell.learning.records.subjects import Subjects
from endbell.marks.tables import SerialRange
from endbell.reference import Reference

from .conftest import dossier, mark

ROW = SerialRange("a", "A", 100, 1099, date(1959, 1, 5), date(1964, 12, 28), 10.0, ())
T = 2400


def records(n: int, late: float, seed: int = 1, blur: float = 6.0) -> list[SerialRecord]:
    """Amps whose numbers run ``late`` weeks behind the pack's line in the middle of the range."""
    random = np.random.default_rng(seed)
    out: list[SerialRecord] = []
    for number in random.integers(100, 1100, n):
        middle = line(ROW, number) + late * np.sin(np.pi * (number - 100) / 1000)
        week = middle + random.normal(0, ROW.spread_weeks)
        seen = week + random.normal(0, blur)
        p = np.exp(-0.5 * ((np.arange(T) - seen) / blur) ** 2)
        out.append(SerialRecord("a", int(number), binned(p / p.sum(), line(ROW, number))))
    return out


def test_a_curve_that_bends_is_found_within_its_intervals() -> None:
    knots = curve(ROW, records(400, 60.0), 0.01, 26.0)
    assert len(knots) == 12
    inner = knots[1:-1]
    truth = [line(ROW, k.number) + 60.0 * np.sin(np.pi * (k.number - 100) / 1000) for k in inner]
    assert sum(k.low <= t <= k.high for k, t in zip(inner, truth, strict=True)) >= 8
    assert max(abs(k.week - t) for k, t in zip(inner, truth, strict=True)) < 8
    assert sum(k.records for k in knots) == pytest.approx(400, rel=0.05)


def test_the_curve_never_falls() -> None:
    for seed in range(5):
        knots = curve(ROW, records(60, -80.0, seed, blur=40.0), 0.01, 26.0)
        weeks = [k.week for k in knots]
        assert weeks == sorted(weeks)


def test_too_few_records_make_no_curve() -> None:
    assert curve(ROW, records(20, 60.0), 0.01, 26.0) == ()


def test_few_records_stay_nearer_the_pack_than_many() -> None:
    few, many = (curve(ROW, records(n, 60.0), 0.01, 3.0) for n in (30, 1000))

    def off(knots: tuple) -> float:
        return max(k.week - line(ROW, k.number) for k in knots)

    assert off(few) < 0.5 * off(many)


def test_an_amp_of_another_decade_does_not_bend_the_curve() -> None:
    plain = records(120, 0.0)
    stray = np.exp(-0.5 * ((np.arange(T) - line(ROW, 600) - 350) / 6.0) ** 2)
    wrong = SerialRecord("a", 600, binned(stray / stray.sum(), line(ROW, 600)))
    before, after = (curve(ROW, rs, 0.01, 26.0) for rs in (plain, [*plain, wrong]))
    for a, b in zip(before, after, strict=True):
        assert abs(a.week - b.week) < 2.0


def test_the_isotonic_step_is_that_of_another_library() -> None:
    random = np.random.default_rng(2)
    y, w = np.arange(50) + random.normal(0, 12, 50), random.uniform(0.1, 3, 50)
    theirs = IsotonicRegression().fit_transform(np.arange(50), y, sample_weight=w)
    assert isotonic_regression(y, weights=w).x == pytest.approx(theirs, abs=1e-9)


def test_the_rows_of_a_curve_meet_at_its_knots() -> None:
    knots = curve(ROW, records(200, 60.0), 0.01, 26.0)
    rows = [row for row, _, _ in rows_of(ROW, knots)]
    assert rows[0].id == "a"
    assert rows[0].first_number == 100
    assert rows[-1].last_number == 1099
    for a, b in pairwise(rows):
        assert b.first_number == a.last_number + 1
        assert a.last == b.first
    for k in knots[1:-1]:
        row = next(r for r in rows if r.first_number <= k.number <= r.last_number)
        assert line(row, k.number) == pytest.approx(k.week, abs=1.0)


def test_a_serial_has_no_say_in_its_own_date(subjects: Subjects, brackwater: Reference) -> None:
    """The chart says June 1964; the pack's line would put L5000 half a year later."""
    marks = mark("chart", "chart-letters", "WM") + mark("chassis", "serial", "L5000")
    one = Pass(subjects, np.zeros(subjects.space.size))
    one.sums([Record(dossier(marks, brackwater))], serials=True)
    (record,) = one.serials
    assert record.range_id == "lantern-20-middle"
    row = next(r for r in brackwater.tables.serials if r.id == record.range_id)
    weeks = round(line(row, 5000)) - 416 + 4 * np.arange(record.p.size) + 1.5
    assert float((record.p * weeks).sum() / record.p.sum()) == pytest.approx(
        week_of(date(1964, 6, 20)), abs=30
    )
