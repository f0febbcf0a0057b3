"""The slow twin itself, on cases small enough to work out by hand."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest

from . import lags, text, time
from .brute import Brute, edtf, highest_density
from .marks import shipped, spread
from .setting import Setting
from .tables import CHART, MATRICES, NUMBERS
from .world import random_world


def plain(**more: object) -> dict:
    """A world with nothing in it: no model, flat era, 100 weeks."""
    w = random_world(1)
    w |= {
        "as_of": time.thursday(99),
        "models": [],
        "rivals": None,
        "supplies": [],
        "made": None,
        "repairs": [],
        "claim": None,
        "era": [(1930, 1.0)],
        "parts": [],
        "marks": [],
        "numbers": {**NUMBERS, "scheme.first_year": 1900.0},
    }
    return {**w, **more}


def mark(n: int, part: str, kind: str, **more: object) -> dict:
    blank = {
        "text": "",
        "legibility": "clear",
        "result": "seen",
        "feature": None,
        "value": None,
        "quantity": None,
        "unit": None,
        "uncertainty": None,
        "date": None,
    }
    return {**blank, "n": n, "part": part, "kind": kind, **more}


def part(name: str, part_class: str, assembly: str = "chassis") -> dict:
    return {"id": name, "class": part_class, "assembly": assembly}


# --- time -----------------------------------------------------------------------------------------


def test_the_first_week_begins_in_december_1929():
    assert time.week_of(date(1929, 12, 30)) == 0 == time.week_of(date(1930, 1, 5))
    assert time.label(0) == "1930-W01"


def test_weeks_are_iso_weeks():
    for week in range(3000):
        year, number, _ = time.thursday(week).isocalendar()
        assert (time.year_of(week), time.number_in_year(week)) == (year, number)


def test_a_month_holds_the_weeks_of_its_thursdays_and_a_day_its_own_week():
    march = time.weeks_of_interval(300, date(1934, 3, 1), date(1934, 3, 31))
    assert march.sum() == 5  # 1, 8, 15, 22, 29 March 1934 were Thursdays
    assert time.weeks_of_interval(300, date(1934, 3, 4), date(1934, 3, 4)).nonzero()[0] == [217]
    assert time.weeks_of_interval(300, date(1934, 3, 4), date(1934, 3, 5)).sum() == 2


def test_a_soft_window_is_nearly_half_open_at_its_end():
    w = time.soft_window(200, date(1931, 1, 1), None, 4.0)
    start = time.week_of(date(1931, 1, 1))
    assert w[start] == pytest.approx(1 / (1 + math.exp(-0.125)))
    assert (time.soft_window(200, date(1931, 1, 1), None, 0.0) == (np.arange(200) >= start)).all()


# --- text -----------------------------------------------------------------------------------------


def total(
    txt: str, source: str, year: int, week: int, digits: int, legibility: str = "clear"
) -> float:
    """P(text | this code), over every way the text can stand for it."""
    code = source + str(year)[-digits:] + f"{week:02d}"
    p = 0.0
    for weight, seen, cuts in text.layouts(txt, len(code)):
        if cuts <= {0, len(source), len(source) + digits, len(code)}:
            for symbol, true in zip(seen, code, strict=True):
                weight *= text.p_character(symbol, true, MATRICES["digits"][legibility])
            p += weight
    return p


def test_a_clear_code_is_exact_and_a_dash_ends_a_group():
    assert total("992-5738", "992", 1957, 38, 2) == 1
    assert total("992-5738", "9925", 1957, 38, 1) == 0
    assert total("9925738", "9925", 1957, 38, 1) == 1


def test_unclear_characters():
    assert total("99?738", "992", 1957, 38, 1) == 1
    assert total("99273?", "992", 1957, 38, 1) == pytest.approx(0.95)
    assert total("992738?", "992", 1957, 38, 1) == pytest.approx(0.05)
    assert total("?992738?", "992", 1957, 38, 1) == pytest.approx(0.0025)
    assert total("9927[38]8", "992", 1957, 38, 1) == pytest.approx(0.49)
    assert total("9927[24]8", "992", 1957, 38, 1) == pytest.approx(0.0025)
    assert total("...738", "992", 1957, 38, 1) == pytest.approx(0.5**3)
    assert total("...738", "992", 1957, 38, 2) == pytest.approx(0.5**4)
    assert total("...838", "992", 1957, 38, 2) == 0
    assert total("...5738", "992", 1957, 38, 2) == pytest.approx(0.5**3)
    assert total("992728", "992", 1957, 38, 1, "worn") == pytest.approx(0.82**5 * 0.01)


def test_rows_of_the_confusion_matrices_sum_to_one():
    for alphabet in MATRICES.values():
        for m in alphabet.values():
            for row in (m or {}).values():
                assert sum(row.values()) == pytest.approx(1)


def test_a_week_code_covers_three_weeks_and_counts_its_sources():
    numbers = {**NUMBERS, "scheme.first_year": 1900.0}
    pieces = text.week_code("992-120", 200, None, numbers, True)
    t = sum(np.outer(p.source, p.week) for p in pieces)
    assert (t.sum(axis=1) > 0).sum() == 1
    row = t[text.NUMBERS.index("992")]
    w = next(w for w in range(200) if time.label(w) == "1931-W20")
    assert row.nonzero()[0].tolist() == [w - 1, w, w + 1]
    assert row[w - 1 : w + 2] == pytest.approx([0.15, 0.7, 0.15])


def test_week_53_of_a_year_of_52_weeks_is_rare_but_possible():
    pieces = text.week_code("992-053", 200, None, {**NUMBERS, "scheme.first_year": 1900.0}, True)
    w = next(w for w in range(200) if time.label(w) == "1931-W01")
    assert pieces[0].week[w] == pytest.approx(0.7 * 0.02)


def test_every_shape_of_seven_digits_counts_one():
    pieces = text.week_code("9923120", 200, None, {**NUMBERS, "scheme.first_year": 1900.0}, True)
    assert sorted(text.NUMBERS[int(p.source.argmax())] for p in pieces) == ["992", "9923"]
    assert max(pieces[0].week) == 0.7


def test_before_its_first_year_the_scheme_counts_little():
    pieces = text.week_code("992-120", 200, None, {**NUMBERS, "scheme.first_year": 1932.0}, True)
    assert pieces[0].week.max() == pytest.approx(0.7 * 0.02)


def test_letters_and_stamps():
    ((p, month),) = text.chart_letters("CB", CHART, None)
    assert (p, month) == (1.0, (date(1934, 2, 1), date(1934, 2, 28)))
    assert len(text.chart_letters("C?", CHART, None)) == 12
    assert [i[0].year for _, i in text.year_stamp("5 0334", None)] == [1934]
    assert [p for p, _ in text.year_stamp("3?", None)] == pytest.approx([0.1] * 10)
    assert [(p, i[0]) for p, i in text.hand_date("3-4-34", None)] == [
        (0.5, date(1934, 3, 4)),
        (0.5, date(1934, 4, 3)),
    ]
    assert text.hand_date("13-4-34", None) == [(1.0, (date(1934, 4, 13), date(1934, 4, 13)))]


# --- lags and deliveries --------------------------------------------------------------------------


def test_a_lag_sums_to_one_and_its_median_is_the_median():
    table = lags.lag_table(20000, 14, 0.5, 0.02, 104, 0.005)
    assert table.sum() == pytest.approx(1)
    assert table[: lags.EARLY].sum() == pytest.approx(0.005)
    plain_lag = lags.lag_table(5000, 14, 0.5, 0.0, 104, 0.0)
    assert plain_lag[: lags.EARLY + 14].sum() == pytest.approx(0.5)


def test_partitions_are_all_there_and_their_probabilities_sum_to_one():
    for k, bell in ((0, 1), (1, 1), (2, 2), (3, 5), (4, 15), (5, 52)):
        all_of_them = lags.partitions([str(i) for i in range(k)])
        assert len(all_of_them) == bell == len({frozenset(map(frozenset, p)) for p in all_of_them})
        assert sum(lags.ewens([len(b) for b in p], 0.4) for p in all_of_them) == pytest.approx(1)
    assert lags.ewens([2], 0.4) == pytest.approx(1 / 1.4)


def test_a_delivery_is_shipped_up_to_four_weeks_after_its_parts_were_made():
    made = np.zeros(10)
    made[3] = 1.0
    assert shipped(made, spread(NUMBERS))[3:8] == pytest.approx([0.75, 0.15, 0.06, 0.03, 0.01])


# --- whole worlds ---------------------------------------------------------------------------------


def test_an_amp_without_marks_keeps_its_prior():
    assert Brute(plain()).weeks() == pytest.approx(np.full(100, 0.01))
    assert Brute(plain()).log_evidence() == pytest.approx(0)


def test_one_clear_code_by_hand():
    """One transformer, code 992-120, no suppliers: every sum written out."""
    w = plain(
        parts=[part("ot", "output-transformer")],
        marks=[mark(1, "ot", "source-date-code", text="992-120")],
    )
    n = w["numbers"]
    made = next(x for x in range(100) if time.label(x) == "1931-W20")
    source = 0.97 / 1.005 / 1000
    t = {made - 1: 0.15, made: 0.7, made + 1: 0.15}
    h = {
        d: sum(p * t.get(d - e, 0) for e, p in enumerate((0.75, 0.15, 0.06, 0.03, 0.01)))
        for d in range(100)
    }
    rho = n["replaced.output-transformer.probability"]

    def p_lag(k: int, u: float) -> float:
        if k < -8:
            return 0.0
        if k < 0:
            return 0.005 / 8
        r = math.exp(-1 / 104)
        return (1 - 0.02 - 0.005) * lags.log_normal(k, 9 * math.exp(u), 0.5) + 0.02 * (1 - r) * r**k

    def s(k: int) -> float:
        r = math.exp(-1 / 156)
        return 0.9 * lags.log_normal(k, 20, 0.6) + 0.1 * (1 - r) * r**k if k >= 0 else 0.0

    z = [-3 + i / 2 for i in range(13)]
    weight = [math.exp(-x * x / 2) for x in z]
    j, original = [], []
    for b in range(100):
        o = sum(
            g / sum(weight) * sum(p_lag(b - d, 0.35 * x) * h[d] for d in range(100))
            for x, g in zip(z, weight, strict=True)
        )
        after = range(b + 1, 100) if b < 99 else (99,)
        later = sum(s(r - d) * h[d] for r in after for d in range(100)) / len(after)
        period = sum(t.get(d, 0) for d in range(100)) / 100
        original.append((1 - rho) * o * source)
        j.append(((1 - rho) * o + rho * 0.85 * later + rho * 0.15 * period) * source / 100)
    brute = Brute(w)
    assert brute.log_evidence() == pytest.approx(math.log(sum(j)))
    assert brute.weeks() == pytest.approx(np.array(j) / sum(j))
    assert brute.original("ot") == pytest.approx(sum(original) / 100 / sum(j))
    origins = [brute.origin("ot", o) for o in ("original", "later", "period")]
    assert sum(origins) == pytest.approx(1)


def test_two_equal_pots_by_their_joint_table():
    """Two pots: the five stories of two originals, two laters and so on, summed by hand."""
    pots = [part("pot-1", "potentiometer"), part("pot-2", "potentiometer")]
    codes = [
        mark(1, "pot-1", "source-date-code", text="992-120"),
        mark(2, "pot-2", "source-date-code", text="992-120"),
    ]
    w = plain(parts=pots, marks=codes)
    brute = Brute(w)
    unit = brute.rivals[0].units["chassis"][0]
    assert len(unit.ways) == 11  # 3^2 origins, and two ways each for two originals or two laters
    joined = sum(
        x.likelihood
        for x in unit.ways
        if x.origin["pot-1"] == x.origin["pot-2"] == "original" and len(x.deliveries) == 1
    )
    apart = sum(
        x.likelihood
        for x in unit.ways
        if x.origin["pot-1"] == x.origin["pot-2"] == "original" and len(x.deliveries) == 2
    )
    one = Brute(plain(parts=pots[:1], marks=codes[:1])).rivals[0].units["chassis"][0]
    single = next(x.likelihood for x in one.ways if x.origin["pot-1"] == "original")
    assert apart == pytest.approx(0.4 / 1.4 * single**2)
    held = joined[6, 20:90] > 1e-30
    assert (joined[6, 20:90] > apart[6, 20:90])[held].all()
    assert brute.together({"pot-1", "pot-2"}) > 0.5


def test_the_ewens_weights_of_three_pots_do_not_change_what_two_of_them_say():
    """A third pot that says nothing leaves the first two as they were, up to the edge of the grid."""
    pots = [part(f"pot-{i}", "potentiometer") for i in (1, 2, 3)]
    codes = [
        mark(i, f"pot-{i}", "source-date-code", text=x) for i, x in ((1, "992-120"), (2, "992-118"))
    ]
    blank = mark(3, "pot-3", "date-code", text="????")
    two = Brute(plain(parts=pots[:2], marks=codes))
    three = Brute(plain(parts=pots, marks=[*codes, blank]))
    assert three.weeks() == pytest.approx(two.weeks(), abs=2e-2)


def test_chart_letters_say_when_the_chassis_was_signed_off():
    w = plain(
        as_of=time.thursday(299),
        parts=[part("chassis", "chassis")],
        marks=[mark(1, "chassis", "chart-letters", text="CB")],
    )
    near = Brute(w).rivals[0].units["chassis"][0].ways[0].likelihood[0]
    rho = w["numbers"]["replaced.chassis.probability"]
    grid = sum(1 for x in range(300) if time.year_of(x) >= 1932)
    tbar = 4 / grid  # four Thursdays in February 1934
    first = next(x for x in range(300) if time.month_of(x) == (1934, 2))
    assert near[first] == pytest.approx((1 - rho) * (0.97 * 2 / 4 + 0.03 * tbar))
    assert near[first + 60] == pytest.approx((1 - rho) * 0.03 * tbar)


def test_a_feature_by_hand():
    w = plain(
        parts=[part("knobs", "knobs")],
        marks=[mark(1, "knobs", "feature", feature="f", value="cream")],
    )
    rows = [
        {"value": "cream", "first": None, "last": time.thursday(49), "share": 1.0, "models": ()},
        {"value": "black", "first": time.thursday(40), "last": None, "share": 1.0, "models": ()},
    ]
    w["features"] = {
        "f": {"part": "knobs", "group": "", "cost": 0.4, "softness": 0.0, "values": rows}
    }
    p = np.array([1.0] * 40 + [0.5] * 10 + [0.0] * 50) * 0.98 + 0.02 / 3
    rho = w["numbers"]["replaced.knobs.probability"]
    replaced = 0.6 * p.mean() + 0.4 / 3
    j = ((1 - rho) * p + rho * replaced) / 100
    assert Brute(w).weeks() == pytest.approx(j / j.sum())


def test_features_changed_together_count_once():
    rows = [
        {"value": v, "first": a, "last": b, "share": 1.0, "models": ()}
        for v, a, b in (("old", None, time.thursday(49)), ("new", time.thursday(50), None))
    ]
    w = plain(
        parts=[part("knobs", "knobs"), part("faceplate", "faceplate")],
        marks=[
            mark(1, "knobs", "feature", feature="f", value="old"),
            mark(2, "faceplate", "feature", feature="g", value="old"),
        ],
    )
    w["features"] = {
        k: {"part": p, "group": "face", "cost": 1.0, "softness": 0.0, "values": rows}
        for k, p in (("f", "knobs"), ("g", "faceplate"))
    }
    unit = Brute(w).rivals[0].units["chassis"][0]
    both = next(x.likelihood for x in unit.ways if set(x.origin.values()) == {"original"})
    p = 0.98 + 0.02 / 3
    a, b = (w["numbers"][f"replaced.{c}.probability"] for c in ("knobs", "faceplate"))
    assert both[0][10] == pytest.approx((1 - a) * (1 - b) * (0.98 * p + 0.02 * p * p))


def test_a_married_cabinet_by_hand():
    """A cabinet with a receipt-like repair: the married branch is one number."""
    w = plain(
        parts=[part("chassis", "chassis"), part("covering", "covering", "cabinet")],
        marks=[mark(1, "covering", "hand-date", text="7-8-30")],
        era=[(1930, 1.0), (1932, 3.0)],
    )
    brute = Brute(w)
    s = Setting(w, None)
    own = brute.rivals[0].units["cabinet"][0]
    lam = sum(x.likelihood for x in own.ways)[0]
    donor = (s.donor * lam).sum()
    j = s.prior * (0.95 * lam + 0.05 * donor)
    assert brute.weeks() == pytest.approx(j / j.sum())
    assert brute.married("cabinet") == pytest.approx(0.05 * donor / j.sum())
    everything = brute.origin("covering", "original", in_this_amp=True)
    assert brute.original("covering") == pytest.approx(everything)
    assert brute.original("covering") < brute.origin("covering", "original")


def test_a_paper_says_that_the_amp_existed():
    w = plain(
        parts=[part("label", "label")], marks=[mark(1, "label", "document", date=time.thursday(49))]
    )
    p = Brute(w).weeks()
    assert p[49] / p[50] == pytest.approx((0.98 + 0.02) / (0.98 * 1e-4 + 0.02))


def test_a_known_repair_says_that_the_amp_existed():
    w = plain(parts=[part("ot", "output-transformer")])
    w["repairs"] = [
        {"part": "ot", "first": time.thursday(60), "last": time.thursday(60), "replaced": True}
    ]
    p = Brute(w).weeks()
    assert p[59] / p[60] == pytest.approx(1 / 0.01)
    assert Brute(w).origin("ot", "later") > 0.98


def test_a_serial_by_hand():
    w = plain(
        as_of=time.thursday(199),
        parts=[part("chassis", "chassis")],
        marks=[mark(1, "chassis", "serial", text="L0101")],
    )
    rho = w["numbers"]["replaced.chassis.probability"]
    expected = time.week_of(date(1932, 7, 22))  # a hundred numbers on, two days each
    j = np.array(
        [
            (1 - rho)
            * (
                0.99 * math.exp(-(((b - expected) / 13) ** 2) / 2) / 13 / math.sqrt(2 * math.pi)
                + 0.01 / 200
            )
            + rho / 200
            for b in range(200)
        ]
    )
    assert Brute(w).weeks() == pytest.approx(j / j.sum())


def test_rivals_are_weighed_by_their_odds_and_their_parts():
    run = [{"first": None, "last": None, "volume": 1.0}]
    models = [
        {
            "id": "lantern-20",
            "runs": run,
            "odds": 3.0,
            "softness": 0.0,
            "expected": ["tank", "knobs"],
        },
        {"id": "beacon-45", "runs": run, "odds": 1.0, "softness": 0.0, "expected": ["knobs"]},
    ]
    w = plain(
        models=models,
        parts=[part("tank", "tank", "reverb")],
        marks=[mark(1, "tank", "condition", text="untouched")],
    )
    w["numbers"] = {**w["numbers"], "married.reverb.probability": 0.0}
    assert Brute(w).models()["beacon-45"] == pytest.approx(0.02 / 3.02)


# --- sets -----------------------------------------------------------------------------------------


def test_ties_go_to_the_earlier_week():
    assert highest_density(np.array([0.25, 0.25, 0.25, 0.25]), 0.5) == [(0, 1, 0.5)]
    assert highest_density(np.array([0.4, 0.1, 0.4, 0.1]), 0.8) == [(0, 0, 0.4), (2, 2, 0.4)]


def test_months_that_touch_are_merged():
    assert edtf([(0, 5, 0.5), (7, 8, 0.5)]) == "[1930-01..1930-02]"
    assert edtf([(0, 2, 0.9)]) == "1930-01"
    assert edtf([(0, 0, 0.5), (30, 31, 0.5)]) == "[1930-01,1930-07..1930-08]"


def test_marks_of_no_influence_have_none():
    w = plain(
        parts=[part("chassis", "chassis")], marks=[mark(1, "chassis", "serial", result="illegible")]
    )
    assert Brute(w).influence(1) == pytest.approx(0, abs=1e-12)
    w["marks"].append(mark(2, "chassis", "document", date=time.thursday(49)))
    p = Brute(w).weeks()
    assert Brute(w).influence(2) == pytest.approx(sum(x * math.log2(x / 0.01) for x in p))


# --- what is not weighed --------------------------------------------------------------------------


def test_a_date_that_no_week_up_to_the_day_allows_is_not_weighed():
    w = plain(
        parts=[part("chassis", "chassis")], marks=[mark(1, "chassis", "year-stamp", text="64")]
    )
    assert Brute(w).not_weighed == 1
    assert Brute(w).weeks() == pytest.approx(np.full(100, 0.01))


def test_dates_on_one_part_that_contradict_each_other_are_not_weighed():
    w = plain(
        parts=[part("ot", "output-transformer")],
        marks=[
            mark(1, "ot", "source-date-code", text="992-120"),
            mark(2, "ot", "year-stamp", text="30"),
        ],
    )
    assert Brute(w).not_weighed == 2


def test_a_label_is_printed_once_whatever_stands_on_it():
    """The same term twice on one label, the second time as a second mark, says no more than once."""
    label = [part("label", "label")]
    term = {
        "pattern": "ZONE 9",
        "not_before": time.thursday(60),
        "not_after": None,
        "strictness": "hard",
    }
    one = plain(parts=label, marks=[mark(1, "label", "label-text", text="ZONE 9")], terms=[term])
    two = plain(
        parts=label,
        marks=[mark(n, "label", "label-text", text="ZONE 9") for n in (1, 2)],
        terms=[term],
    )
    assert Brute(two).weeks() == pytest.approx(Brute(one).weeks(), abs=1e-4)
