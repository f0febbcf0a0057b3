"""From a distribution over weeks to what people read: sets, runs, months, years."""

from __future__ import annotations

from datetime import date, timedelta
from time import struct_time
from typing import Any

import numpy as np
import pytest
from edtf import parse_edtf
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from endbell.chronology import sets
from endbell.chronology.sets import (
    build_date,
    density_sets,
    edtf_of,
    year_masses,
)
from endbell.chronology.time import Grid
from endbell.chronology.weeks import thursday, week_label, week_of

from .amp import Array

GRID = Grid.until(date(1975, 6, 1))
LEVELS = ("0.50", "0.80", "0.95")

Weeks = NDArray[np.int64]


def highest_density(p: Array, level: float) -> Weeks:
    """The set of a level, as indices."""
    return np.asarray(sets.highest_density(p, level), dtype=np.int64)


def runs_of(weeks: Weeks) -> list[tuple[int, int]]:
    """First and last week of each run."""
    return sets.runs_of(weeks)  # pyright: ignore[reportArgumentType]


seeds = st.integers(0, 2**32 - 1)


def some_distribution(seed: int, size: int = GRID.size) -> Array:
    """A distribution with a few peaks, some of them equal, and weeks of no mass at all."""
    r = np.random.default_rng(seed)
    t = np.arange(size)
    p = np.full(size, r.choice([0.0, 1e-6]))
    for _ in range(r.integers(1, 5)):
        at, spread = r.integers(0, size), r.choice([0.5, 3.0, 20.0, 200.0])
        p += r.choice([1.0, 0.3]) * np.exp(-0.5 * ((t - at) / spread) ** 2)
    if r.random() < 0.3:
        p = np.round(p, 2)
    if p.sum() == 0:
        p[r.integers(0, size)] = 1.0
    return p / p.sum()


@settings(max_examples=60, deadline=None)
@given(seeds, st.sampled_from(LEVELS))
def test_a_set_is_the_smallest_that_holds_its_mass(seed: int, level: str) -> None:
    p = some_distribution(seed)
    weeks = highest_density(p, float(level))
    held = p[weeks].sum()
    assert held >= float(level) - 1e-9
    # without its least week it would fall short; nothing outside is likelier than anything inside
    assert held - p[weeks].min() < float(level) + 1e-9
    outside = np.delete(p, weeks)
    assert outside.size == 0 or outside.max() <= p[weeks].min() * (1 + 1e-11)
    assert np.array_equal(weeks, np.unique(weeks))


@settings(max_examples=40, deadline=None)
@given(seeds)
def test_a_wider_set_holds_the_narrower_one(seed: int) -> None:
    p = some_distribution(seed)
    half, most, all_but = (set(highest_density(p, float(level)).tolist()) for level in LEVELS)
    assert half <= most <= all_but


@settings(max_examples=60, deadline=None)
@given(seeds)
def test_the_runs_of_a_set_tell_its_weeks_and_their_masses(seed: int) -> None:
    p = some_distribution(seed)
    labels = {week_label(t): t for t in range(GRID.size)}
    for level, runs in density_sets(p).items():
        weeks: list[int] = []
        for first, last, mass in runs:
            a, b = labels[first], labels[last]
            assert mass == pytest.approx(p[a : b + 1].sum(), abs=1e-12)
            assert not weeks or a > weeks[-1] + 1
            weeks.extend(range(a, b + 1))
        assert weeks == highest_density(p, float(level)).tolist()


def test_ties_go_to_the_earlier_week() -> None:
    assert highest_density(np.full(10, 0.1), 0.5).tolist() == [0, 1, 2, 3, 4]
    assert highest_density(np.array([0.3, 0.2, 0.3, 0.2]), 0.75).tolist() == [0, 1, 2]
    assert highest_density(np.array([0.2, 0.4, 0.4]), 0.4).tolist() == [1]


def test_a_tie_that_only_rounding_broke_is_still_a_tie() -> None:
    p = np.full(4, 0.25)
    p[3] *= 1 + 1e-14
    assert highest_density(p, 0.25).tolist() == [0]


def test_a_certain_week_is_a_set_of_one() -> None:
    p = np.zeros(20)
    p[7] = 1.0
    assert highest_density(p, 0.95).tolist() == [7]
    assert runs_of(highest_density(p, 0.95)) == [(7, 7)]


def test_no_week_is_no_run() -> None:
    assert runs_of(np.array([], dtype=np.int64)) == []


def months_said(text: str) -> set[tuple[int, int]]:
    """Every month that an EDTF text of ours covers, by an independent reading of it."""
    out: set[tuple[int, int]] = set()
    for item in text.strip("[]").split(","):
        first, _, last = item.partition("..")
        y, m = (int(x) for x in first.split("-"))
        end = tuple(int(x) for x in (last or first).split("-"))
        while (y, m) <= end:
            out.add((y, m))
            y, m = (y, m + 1) if m < 12 else (y + 1, 1)
    return out


@settings(max_examples=60, deadline=None)
@given(seeds)
def test_the_edtf_text_covers_the_months_of_the_set_and_no_others(seed: int) -> None:
    p = some_distribution(seed)
    weeks = highest_density(p, 0.95)
    text = edtf_of(runs_of(weeks), GRID)
    months = {(thursday(int(w)).year, thursday(int(w)).month) for w in weeks}
    said = months_said(text)
    assert months <= said
    assert said - months == set()
    items = text.strip("[]").split(",")
    assert items == sorted(items)


def day(t: struct_time) -> date:
    return date(t.tm_year, t.tm_mon, t.tm_mday)


@settings(max_examples=60, deadline=None)
@given(seeds)
def test_the_edtf_text_is_one_that_the_edtf_library_reads_as_the_same_days(seed: int) -> None:
    p = some_distribution(seed)
    weeks = highest_density(p, 0.95)
    first, last = thursday(int(weeks[0])), thursday(int(weeks[-1]))
    one_month = (first.year, first.month) == (last.year, last.month)
    read: Any = parse_edtf(edtf_of(runs_of(weeks), GRID))
    assert type(read).__name__ == ("Date" if one_month else "OneOfASet")
    assert day(read.lower_strict()) == first.replace(day=1)
    after = (last.replace(day=28) + timedelta(days=4)).replace(day=1)
    assert day(read.upper_strict()) == after - timedelta(days=1)


@settings(max_examples=40, deadline=None)
@given(seeds)
def test_years_and_decades_add_up_to_one(seed: int) -> None:
    p = some_distribution(seed)
    years = year_masses(p, GRID)
    assert sum(years.values()) == pytest.approx(1.0, abs=1e-12)
    told = build_date(p, GRID)
    assert set(told.years) == {y for y, v in years.items() if v >= 0.0005}
    assert all(told.years[y] == years[y] for y in told.years)
    assert sum(told.decades.values()) == pytest.approx(1.0, abs=0.01)
    assert told.p_mode_year == max(years.values()) or years[told.mode_year] == pytest.approx(
        max(years.values()), abs=1e-12
    )
    assert told.decades[told.mode_year // 10 * 10] >= told.p_mode_year - 1e-12


def test_the_year_of_a_week_is_that_of_its_thursday() -> None:
    p = np.zeros(GRID.size)
    p[week_of(date(1963, 12, 31))] = 1.0  # Tuesday of the week of Thursday 2 January 1964
    told = build_date(p, GRID)
    assert told.mode_year == 1964 and told.mode == "1964-W01"
    assert months_said(told.edtf) == {(1964, 1)}


def test_the_mode_is_the_likeliest_week_the_earlier_of_two() -> None:
    p = np.zeros(GRID.size)
    p[[300, 900]] = 0.5
    told = build_date(p, GRID)
    assert told.mode == week_label(300)
    assert told.mode_year == thursday(300).year


def test_two_peaks_are_told_as_one_of_a_set() -> None:
    p = np.zeros(GRID.size)
    for first, last in (
        (date(1957, 9, 5), date(1957, 12, 26)),
        (date(1967, 8, 3), date(1967, 11, 30)),
    ):
        p[week_of(first) : week_of(last) + 1] = 1.0
    told = build_date(p / p.sum(), GRID)
    assert told.edtf == "[1957-09..1957-12,1967-08..1967-11]"


def test_runs_that_touch_in_a_month_are_merged() -> None:
    a, b = week_of(date(1957, 9, 5)), week_of(date(1957, 9, 26))
    assert months_said(edtf_of([(a, a), (b, b)], GRID)) == {(1957, 9)}
    c = week_of(date(1957, 10, 3))
    assert edtf_of([(a, a), (c, c)], GRID) == "[1957-09..1957-10]"
    d = week_of(date(1957, 11, 7))
    assert edtf_of([(a, a), (d, d)], GRID) == "[1957-09,1957-11]"


def test_a_set_within_one_month_is_that_month() -> None:
    p = np.zeros(GRID.size)
    p[week_of(date(1963, 6, 6))] = 1.0
    told = build_date(p, GRID).edtf
    read: Any = parse_edtf(told)
    assert told == "1963-06"
    assert day(read.lower_strict()) == date(1963, 6, 1)
    assert day(read.upper_strict()) == date(1963, 6, 30)
