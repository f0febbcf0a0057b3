"""What one mark says on its own, week by week, written out."""

from __future__ import annotations

from datetime import date
from math import erf, exp, inf, log, pi, sqrt

import numpy as np
import pytest

from endbell.chronology.dates import Dates
from endbell.chronology.observe import existed, final_assembly, label, printed, serial, term_fit
from endbell.chronology.setting import Setting
from endbell.chronology.texts import interval_likelihood, scheme_in_use, week_likelihood
from endbell.chronology.time import Grid
from endbell.chronology.weeks import thursday, week_label, week_of
from endbell.chronology.workspace import Workspace
from endbell.marks import MarkReading, Seen, read_mark
from endbell.marks.tables import SerialRange
from endbell.marks.types import Reading, Split
from endbell.reference import Reference
from endbell.reference.types import EraKnot, Window

from ..amp import amp

GRID = Grid.until(date(1966, 6, 1))
SIZE = GRID.size


@pytest.fixture(scope="module")
def assume(common: Reference) -> dict[str, float]:
    return {name: a.value for name, a in common.assumptions.items()}


def seen(kind: str, text: str, reference: Reference, legibility: str = "clear") -> MarkReading:
    reading = read_mark(Seen(kind, text, legibility), reference.tables)
    assert reading.misfit is None, reading.misfit
    return reading


# -- weeks -------------------------------------------------------------------------------------------


def test_weeks_have_the_year_and_month_of_their_thursday() -> None:
    for w in range(0, SIZE, 7):
        iso = thursday(w).isocalendar()
        assert GRID.years[w] == iso.year == thursday(w).year
        assert GRID.months[w] == thursday(w).year * 12 + thursday(w).month - 1
        assert week_label(w) == f"{iso.year}-W{iso.week:02d}"
        assert week_of(thursday(w)) == w


def slow_weeks(first: date | None, last: date | None) -> list[int]:
    days = None if first is None or last is None else (last - first).days + 1
    out: list[int] = []
    for w in range(SIZE):
        inside = [
            d
            for d in range(7)
            if (first is None or date.fromordinal(thursday(w).toordinal() - 3 + d) >= first)
            and (last is None or date.fromordinal(thursday(w).toordinal() - 3 + d) <= last)
        ]
        if (days is not None and days < 7 and inside) or (
            (days is None or days >= 7) and 3 in inside
        ):
            out.append(w)
    return out


@pytest.mark.parametrize(
    ("first", "last"),
    [
        (date(1963, 1, 1), date(1963, 12, 31)),
        (date(1963, 5, 1), date(1963, 5, 31)),
        (date(1963, 5, 8), date(1963, 5, 8)),
        (date(1963, 5, 4), date(1963, 5, 6)),
        (date(1963, 5, 6), date(1963, 5, 12)),
        (date(1963, 5, 3), date(1963, 5, 9)),
        (None, date(1950, 1, 1)),
        (date(1965, 12, 31), None),
        (None, None),
        (date(1920, 1, 1), date(1925, 1, 1)),
        (date(1999, 1, 1), date(1999, 1, 2)),
        (date(1929, 1, 1), date(1930, 2, 1)),
        (date(1966, 5, 30), date(1990, 1, 1)),
    ],
)
def test_the_weeks_of_an_interval(first: date | None, last: date | None) -> None:
    found = GRID.weeks_of(first, last)
    assert list(range(found.start, found.stop)) == slow_weeks(first, last)


def logistic(x: float) -> float:
    return 0.0 if x < -700 else 1 / (1 + exp(-x))


@pytest.mark.parametrize("softness", [0.0, 1.0, 13.0])
def test_a_soft_window_has_logistic_edges(softness: float) -> None:
    window = Window(date(1950, 3, 1), date(1960, 9, 1), 3.0)
    f, l = week_of(date(1950, 3, 1)), week_of(date(1960, 9, 1))
    fast = GRID.soft_window(window, softness)
    for t in (0, f - 1, f, f + 1, f + 30, l - 1, l, l + 1, SIZE - 1):
        if softness == 0:
            slow = 1.0 if f <= t <= l else 0.0
        else:
            slow = logistic((t - f + 0.5) / softness) * logistic((l - t + 0.5) / softness)
        assert fast[t] == pytest.approx(slow, abs=1e-15)
    assert (GRID.soft_window(Window(None, None), softness) == 1).all()


def test_the_era_is_linear_between_its_knots() -> None:
    knots = (EraKnot(1940, 1.0), EraKnot(1950, 3.0), EraKnot(1960, 0.5))
    era = GRID.era(knots)
    assert era.sum() == pytest.approx(1.0, abs=1e-12)
    a, b = week_of(date(1940, 1, 1)), week_of(date(1950, 1, 1))
    assert era[0] == era[a] and era[-1] == era[week_of(date(1960, 1, 1))]
    middle = (a + b) // 2
    assert era[middle] / era[a] == pytest.approx(1 + 2 * (middle - a) / (b - a), rel=1e-12)
    assert GRID.era(()) == pytest.approx(np.full(SIZE, 1 / SIZE))


# -- codes -------------------------------------------------------------------------------------------


def slow_week_code(split: Split, w: int, assume: dict[str, float]) -> float:
    """t(w) of one split without its source, docs/model.md, section 4."""
    total = 0.0
    for d, name in ((0, "same"), (-1, "before"), (1, "after")):
        iso = thursday(w + d).isocalendar()
        before = thursday(w + d - 1).isocalendar()
        codes = [(iso.year, iso.week, 1.0)]
        if iso.week == 1 and before.week == 52:
            kappa = assume["week_code.week_53_of_52"]
            codes = [(iso.year, 1, 1 - kappa), (iso.year - 1, 53, kappa)]
        for year, week, share in codes:
            fit = share
            for vector, ch in zip(split.year, f"{year:04d}"[-len(split.year) :], strict=True):
                fit *= vector[int(ch)]
            for vector, ch in zip(split.week, f"{week:02d}", strict=True):
                fit *= vector[int(ch)]
            total += assume[f"week_code.{name}"] * fit
    use = 1.0 if thursday(w).isocalendar().year >= 1945 else assume["scheme.before_weight"]
    return split.weight * total * use


@pytest.mark.parametrize(
    ("text", "legibility"),
    [
        ("993-340", "clear"),
        ("993-6301", "clear"),
        ("993-6253", "clear"),
        ("993-6453", "clear"),
        ("993-3?8", "worn"),
        ("...40", "poor"),
        ("993-[38]01", "clear"),
    ],
)
def test_a_week_code_by_week(
    text: str, legibility: str, common: Reference, assume: dict[str, float]
) -> None:
    reading = seen("source-date-code", text, common, legibility)
    use = scheme_in_use(GRID, assume)
    for split in reading.splits[:4]:
        fast = week_likelihood(split, GRID, assume, use)
        near = {int(w) + d for w in np.flatnonzero(fast > 1e-6)[:12] for d in (-2, -1, 0, 1, 2)}
        ends = {0, 1, SIZE - 2, SIZE - 1, week_of(date(1944, 12, 31)), week_of(date(1945, 1, 4))}
        for w in sorted(near | ends):
            if 0 <= w < SIZE:
                assert fast[w] == pytest.approx(slow_week_code(split, w, assume), abs=1e-15)


def test_readings_that_are_intervals_add_up() -> None:
    readings = [
        Reading(0.7, "a", date(1950, 1, 1), date(1950, 12, 31)),
        Reading(0.3, "b", date(1950, 6, 7), date(1950, 6, 7)),
    ]
    t = interval_likelihood(readings, GRID)
    assert t[week_of(date(1950, 6, 7))] == pytest.approx(1.0)
    assert t[week_of(date(1950, 3, 7))] == 0.7
    assert np.count_nonzero(t) == 52


def test_a_part_is_made_up_to_four_weeks_before_it_is_sent(assume: dict[str, float]) -> None:
    spread = [assume[f"delivery.spread.{e}"] for e in range(5)]
    assert sum(spread) == pytest.approx(1.0)
    t = np.random.default_rng(2).random(40)
    slow = [sum(spread[e] * t[d - e] for e in range(5) if d >= e) for d in range(40)]
    assert Dates.of(t).later_by(spread).dense == pytest.approx(np.array(slow), abs=1e-15)


# -- final assembly, labels, papers, serials -----------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("year-stamp", "5 0364"),
        ("year-stamp", "30"),
        ("hand-date", "3-5-64"),
        ("hand-date", "1966"),
    ],
)
def test_a_mark_of_final_assembly_is_made_near_the_build(
    kind: str, text: str, common: Reference, assume: dict[str, float]
) -> None:
    reading = seen(kind, text, common)
    t = interval_likelihood(reading.readings, GRID)
    original, replaced = final_assembly(reading, kind, GRID, assume)
    q = assume[f"assembly_mark.{kind}.misread"]
    b, a = (
        int(assume[f"assembly_mark.{kind}.before_weeks"]),
        int(assume[f"assembly_mark.{kind}.after_weeks"]),
    )
    mean = sum(t) / SIZE
    for w in [*range(0, SIZE, 13), *np.flatnonzero(t)[:3].tolist(), SIZE - 1]:
        near = [t[w + d] if 0 <= w + d < SIZE else 0.0 for d in range(-b, a + 1)]
        assert original[w] == pytest.approx((1 - q) * sum(near) / len(near) + q * mean, abs=1e-15)
    assert replaced == pytest.approx(mean, abs=1e-15)


def test_chart_letters_are_misread_within_the_years_of_their_scheme(
    brackwater: Reference, assume: dict[str, float]
) -> None:
    reading = seen("chart-letters", "WB", brackwater)  # January 1964, of 1954 to 1971
    t = interval_likelihood(reading.readings, GRID)
    _, replaced = final_assembly(reading, "chart-letters", GRID, assume)
    inside = [w for w in range(SIZE) if thursday(w).year >= 1954]
    assert replaced == pytest.approx(sum(t[w] for w in inside) / len(inside), abs=1e-14)


def slow_term(
    first: int | None, last: int | None, strictness: str, d: float, hard: float, soft: float
) -> float:
    x = max(0.0, -inf if first is None else first - d, -inf if last is None else d - last)
    if strictness == "info" or x == 0:
        return 1.0
    return hard if strictness == "hard" else max(hard, exp(-x / soft))


@pytest.mark.parametrize("strictness", ["hard", "soft", "info"])
@pytest.mark.parametrize(("first", "last"), [(100, 200), (None, 200), (100, None)])
def test_a_term_fits_inside_its_years_and_fades_outside(
    strictness: str, first: int | None, last: int | None, assume: dict[str, float]
) -> None:
    weeks = np.arange(-50.0, 1500.0)
    fast = term_fit(first, last, strictness, weeks, assume)
    hard, soft = assume["terminus.hard_leak"], assume["terminus.soft_weeks"]
    slow = [slow_term(first, last, strictness, d, hard, soft) for d in weeks.tolist()]
    assert fast == pytest.approx(np.array(slow), abs=1e-15)


LABELS = [
    [("label-text", "PORT ELLERY, OHIO 44101")],
    [("label-text", "CHICAGO 16, ILL.")],
    [("patent-number", "2,900,000")],
    [("label-text", "PORT ELLERY, OHIO 44101"), ("patent-number", "3,120,000")],
]


@pytest.mark.parametrize("texts", LABELS)
def test_a_label_was_printed_some_weeks_before_it_was_stuck_in(
    texts: list[tuple[str, str]], common: Reference, assume: dict[str, float]
) -> None:
    readings = [seen(kind, text, common) for kind, text in texts]
    original, replaced = label(readings, GRID, assume)
    median, sigma = assume["label.lag_median_weeks"], assume["label.lag_sigma"]

    def phi(n: int) -> float:
        return 0.0 if n <= 0 else 0.5 * (1 + erf((log(n) - log(median)) / sigma / sqrt(2)))

    lag = [phi(n + 1) - phi(n) for n in range(521)]
    weeks = np.arange(-520, SIZE, dtype=np.float64)
    g = np.prod([printed(r, weeks, assume) for r in readings], axis=0)
    for b in (0, 100, 700, week_of(date(1963, 6, 3)), week_of(date(1964, 3, 2)), SIZE - 1):
        slow = sum(lag[n] / sum(lag) * g[b - n + 520] for n in range(521))
        assert original[b] == pytest.approx(slow, rel=1e-11)
    assert replaced == pytest.approx(sum(g[520:]) / SIZE, rel=1e-12)


def test_a_patent_is_not_printed_before_it_was_granted(
    common: Reference, assume: dict[str, float]
) -> None:
    reading = seen("patent-number", "2,900,000", common)
    assert len(reading.readings) == 1 and reading.readings[0].first is not None
    granted = week_of(reading.readings[0].first)
    g = printed(reading, np.arange(granted - 3.0, granted + 3.0), assume)
    assert g.tolist() == [assume["terminus.hard_leak"]] * 3 + [1.0] * 3


def test_a_paper_says_that_the_amp_existed_unless_it_is_another_amps(
    assume: dict[str, float],
) -> None:
    by = existed(100, GRID, assume)
    o, leak = assume["document.other_amp"], assume["document.leak"]
    assert (by[:101] == 1.0).all()
    assert by[101:] == pytest.approx((1 - o) * leak + o, abs=1e-15)


def test_a_serial_is_normal_round_its_place_in_the_range(assume: dict[str, float]) -> None:
    ranges = (
        SerialRange(
            "early", "L", 1, 100, date(1950, 1, 1), date(1951, 1, 1), 13.0, ("lantern-20",)
        ),
        SerialRange("any", "L", 1, 100, date(1960, 1, 1), date(1961, 1, 1), 8.0, ()),
    )
    reading = MarkReading(
        "serial",
        "L 50",
        "clear",
        "serial",
        readings=(
            Reading(
                0.6,
                "a",
                date(1950, 7, 1),
                date(1950, 7, 1),
                facts=(("range", "early"),),
                spread_weeks=13.0,
            ),
            Reading(
                0.4,
                "b",
                date(1960, 7, 1),
                date(1960, 7, 1),
                facts=(("range", "any"),),
                spread_weeks=8.0,
            ),
        ),
    )
    names = ("lantern-20", "wick-6", None)
    original, replaced = serial(reading, ranges, names, GRID, assume)
    leak = assume["serial.leak"]

    def normal(b: int, at: date, s: float) -> float:
        return exp(-(((b - week_of(at)) / s) ** 2) / 2) / (s * sqrt(2 * pi))

    for b in (0, week_of(date(1950, 5, 1)), week_of(date(1960, 7, 1)), SIZE - 1):
        both = 0.6 * normal(b, date(1950, 7, 1), 13) + 0.4 * normal(b, date(1960, 7, 1), 8)
        one = 0.4 * normal(b, date(1960, 7, 1), 8)
        assert original[:, b] == pytest.approx(
            [leak / SIZE + (1 - leak) * x for x in (both, one, one)], abs=1e-15
        )
    assert replaced == 1 / SIZE


# -- priors --------------------------------------------------------------------------------------------


def test_the_prior_of_a_model_is_its_runs_and_a_little_of_everything(
    brackwater: Reference, assume: dict[str, float]
) -> None:
    values = {name: a.value for name, a in brackwater.assumptions.items()}
    setting = Setting.of(
        amp([], brackwater, as_of=date(1966, 6, 1)), brackwater, values, None, Workspace()
    )
    for m, model in enumerate(setting.models):
        assert model is not None
        r = np.zeros(SIZE)
        for run in model.runs:
            w = GRID.soft_window(run, model.softness_weeks)
            if w.sum() > 0 and (run.first is None or run.first <= date(1966, 6, 1)):
                r += run.weight * w / w.sum()
        slow = 0.99 * r / r.sum() + 0.01 / SIZE
        assert setting.prior[m] == pytest.approx(slow, abs=1e-15)
    assert setting.prior.sum(axis=1) == pytest.approx(np.ones(4), abs=1e-12)
    odds = [m.odds for m in setting.models if m is not None]
    assert setting.odds == pytest.approx([o / sum(odds) for o in odds])
