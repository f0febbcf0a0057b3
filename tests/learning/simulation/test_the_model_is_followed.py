"""Rates, lags, deliveries and marriages of drawn amps are those the assumptions state."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from statistics import median

import pytest

from endbell.learning.simulation.calendar import Calendar
from endbell.learning.simulation.deliveries import Fitted, Made, made
from endbell.learning.simulation.design import PartDesign
from endbell.learning.simulation.dice import Again, Dice
from endbell.learning.simulation.texts import Eye
from endbell.learning.simulation.types import Twist
from endbell.learning.simulation.world import World
from endbell.reference import Reference

from .conftest import AS_OF, Seen, a_simulator, some

BUILT = Calendar(AS_OF)
WEEK_1964 = next(w for w in range(BUILT.size) if BUILT.label(w) == "1964-W20")
LANTERN = 0


def a_world(reference: Reference, twist: Twist | None = None, **assume: float) -> World:
    values = {name: a.value for name, a in reference.assumptions.items()}
    values.update({name.replace("__", "."): value for name, value in assume.items()})
    return World(reference, values, AS_OF, twist or Twist())


def pots(n: int) -> list[PartDesign]:
    return [
        PartDesign(f"pot-{i}", "potentiometer", "chassis", dated=True, lengths=(0.0, 1.0, 0.0))
        for i in range(n)
    ]


def drawn_group(
    world: World, origins: Mapping[str, str], runs: int = 2000, age: float = 0.0
) -> list[dict[str, Made]]:
    """Many draws of one group of pots in an amp of 1964."""
    parts = pots(len(origins))
    dice, out = Dice(5, 0), list[dict[str, Made]]()
    while len(out) < runs:
        try:
            fitted = Fitted(LANTERN, WEEK_1964, age)
            out.append(made(dice, world, parts, dict(origins), fitted, {}))
        except Again:
            continue
    return out


@pytest.mark.parametrize("age", [0.0, 0.7])
def test_original_lags_have_their_median_times_the_stock_age(
    brackwater: Reference, age: float
) -> None:
    world = a_world(brackwater)
    groups = drawn_group(world, {"pot-0": "original"}, 4000, age)
    lags = [WEEK_1964 - g["pot-0"].week for g in groups]
    stated = world.assume["lag.potentiometer.median_weeks"] * 2.718281828**age
    assert median(lags) == pytest.approx(stated, rel=0.06)
    early = sum(lag < 0 for lag in lags) / len(lags)
    assert early == pytest.approx(world.assume["lag.potentiometer.early_weight"], abs=0.004)


def test_heavy_tails_keep_the_median_and_reach_further(brackwater: Reference) -> None:
    plain = drawn_group(a_world(brackwater), {"pot-0": "original"}, 4000)
    heavy = drawn_group(a_world(brackwater, Twist(heavy_tails=True)), {"pot-0": "original"}, 4000)
    far = [[WEEK_1964 - g["pot-0"].week > 60 for g in groups] for groups in (plain, heavy)]
    lags = [[WEEK_1964 - g["pot-0"].week for g in groups] for groups in (plain, heavy)]
    assert median(lags[0]) == pytest.approx(median(lags[1]), rel=0.06)
    assert sum(far[1]) > 1.8 * sum(far[0])


def test_originals_of_one_class_share_deliveries_as_often_as_stated(brackwater: Reference) -> None:
    world = a_world(brackwater, lag__potentiometer__sigma=5.0)
    groups = drawn_group(world, {"pot-0": "original", "pot-1": "original"})
    together = sum(
        abs(g["pot-0"].week - g["pot-1"].week) <= 4 and g["pot-0"].source == g["pot-1"].source
        for g in groups
    )
    stated = 1.0 / (1.0 + world.assume["delivery.concentration"])
    assert stated - 0.03 < together / len(groups) < stated + 0.12, "a few agree by chance"


def test_a_delivery_has_one_source_and_spans_four_weeks(brackwater: Reference) -> None:
    world = a_world(brackwater, delivery__concentration=1e-9)
    for origin in ("original", "later"):
        for g in drawn_group(world, {f"pot-{i}": origin for i in range(4)}, 300):
            assert len({m.source for m in g.values()}) == 1
            assert max(m.week for m in g.values()) - min(m.week for m in g.values()) <= 4


def test_period_replacements_come_alone_and_within_three_years(brackwater: Reference) -> None:
    world = a_world(brackwater, delivery__concentration=1e-9)
    groups = drawn_group(world, {"pot-0": "period", "pot-1": "period"}, 500)
    half = world.assume["period.half_width_weeks"]
    weeks = [m.week for g in groups for m in g.values()]
    assert all(abs(w - WEEK_1964) <= half for w in weeks)
    assert sum(abs(w - WEEK_1964) > half / 2 for w in weeks) == pytest.approx(500, abs=90)
    assert sum(len({m.week for m in g.values()}) == 2 for g in groups) > 480


def test_later_replacements_are_younger_than_the_amp_mostly(brackwater: Reference) -> None:
    groups = drawn_group(a_world(brackwater), {"pot-0": "later"})
    assert sum(g["pot-0"].week > WEEK_1964 for g in groups) > 0.9 * len(groups)


def test_sources_follow_windows_and_shares(brackwater: Reference) -> None:
    found = Counter(
        g["pot-0"].source for g in drawn_group(a_world(brackwater), {"pot-0": "original"}, 4000)
    )
    assert found["992"] / 4000 == pytest.approx(0.95 * 0.6, abs=0.03)
    assert found["991"] / 4000 == pytest.approx(0.95 * 0.4, abs=0.03)
    assert all(len(source) == 3 for source in found)


def test_with_wrong_suppliers_the_sources_are_others(brackwater: Reference) -> None:
    twisted = a_world(brackwater, Twist(wrong_suppliers=True))
    found = Counter(g["pot-0"].source for g in drawn_group(twisted, {"pot-0": "original"}))
    stated = a_world(brackwater).supplies
    assert twisted.supplies != stated
    assert Counter(s.part_class for s in twisted.supplies) == Counter(s.part_class for s in stated)
    assert abs(found["992"] - 0.57 * 2000) > 200


def test_parts_are_replaced_as_often_as_stated(without_maker: list[Seen]) -> None:
    # parts with condition marks are drawn given that there was something to say about them
    counts: dict[str, Counter[str]] = {}
    for d in without_maker:
        told = {m["part"] for m in d.marks if m["kind"] == "condition" or "result" in m}
        told |= {r["part"] for r in d.file.get("repair", ())} | {"pot-front"}
        for part, origin in d.drawn.truth.origins.items():
            if part not in told and not d.drawn.truth.married:
                counts.setdefault(part.split("-")[0], Counter())[origin] += 1
    for stem, rate in {"pot": 0.06, "sp": 0.3, "elco": 0.7, "ot": 0.08, "valve": 0.9}.items():
        n = counts[stem].total()
        error = (rate * (1 - rate) / n) ** 0.5
        assert 1 - counts[stem]["original"] / n == pytest.approx(rate, abs=4 * error), stem
    every = sum(counts.values(), Counter())
    assert every["period"] / (every["period"] + every["later"]) == pytest.approx(0.15, abs=0.05)


def test_married_assemblies_are_as_frequent_as_stated_and_hold_nothing_original(
    with_maker: list[Seen],
) -> None:
    cabinets = [d for d in with_maker if {"cab", "baffle", "covering"} & set(d.drawn.truth.origins)]
    married = [d for d in cabinets if "cabinet" in d.drawn.truth.married]
    assert 0.02 < len(married) / len(cabinets) < 0.09
    for d in married:
        for part in ("cab", "baffle", "covering", "cloth", "badge", "handle", "back", "label"):
            assert d.drawn.truth.origins.get(part, "later") != "original"
    assert {a for d in with_maker for a in d.drawn.truth.married} <= {"cabinet", "reverb"}


def test_models_and_their_years_are_those_of_the_pack(with_maker: list[Seen]) -> None:
    models = Counter(d.drawn.truth.model for d in with_maker)
    assert set(models) == {"lantern-20", "lantern-20-reverb", "beacon-45", "wick-6"}
    assert min(models.values()) > 0.12 * len(with_maker)
    reverb = [d.drawn.truth.build for d in with_maker if d.drawn.truth.model == "lantern-20-reverb"]
    assert sum("1961" <= b < "1969" for b in reverb) > 0.9 * len(reverb)


def test_stock_age_takes_the_thirteen_stated_values(with_maker: list[Seen]) -> None:
    ages = Counter(round(d.drawn.truth.stock_age / 0.175) for d in with_maker)
    assert set(ages) <= set(range(-6, 7))
    assert ages[0] > ages[3] > ages[6]


def test_a_worn_digit_is_mistaken_as_often_as_its_matrix_says(brackwater: Reference) -> None:
    eye, dice = Eye(brackwater.tables), Dice(3, 0)
    seen = Counter(eye.plain(dice, "3", "worn") for _ in range(20000))
    row = brackwater.tables.digits["worn"].rows[3]
    for digit, p in zip("0123456789", row, strict=True):
        assert seen[digit] / 20000 == pytest.approx(p, abs=0.006)
    assert {eye.plain(dice, "3", "clear") for _ in range(50)} == {"3"}


def test_a_choice_holds_the_true_digit_but_for_two_in_a_hundred(brackwater: Reference) -> None:
    eye, dice = Eye(brackwater.tables), Dice(4, 0)
    named = [eye.choice(dice, "3", 2, "0123456789") for _ in range(5000)]
    assert all(len(n) == 4 and n[1] < n[2] for n in named)
    assert sum("3" in n for n in named) / 5000 == pytest.approx(0.98, abs=0.008)


def test_what_a_ticket_replaced_is_later_than_the_amp(with_maker: list[Seen]) -> None:
    tickets = [(d.drawn.truth, r) for d in with_maker for r in d.file.get("repair", ())]
    repaired = [(t, r) for t, r in tickets if r["replaced"]]
    assert len(repaired) > 20
    later = [(t, r) for t, r in repaired if t.origins[r["part"]] == "later"]
    assert len(later) > 0.9 * len(repaired)
    after = [t.build[:4] <= r["done"][:4] for t, r in later]
    assert sum(after) > 0.95 * len(after), "but for another amp's parts"


def test_lags_are_halved_by_an_assumption_alone() -> None:
    def gap(dossiers: list[Seen]) -> float:
        years = [
            int(d.drawn.truth.build[:4]) - (1900 + int(m["text"][:2]))
            for d in dossiers
            for m in d.marks
            if m["kind"] == "date-code"
            and m.get("text", "x").isdecimal()
            and len(m["text"]) == 4
            and "legibility" not in m
            and d.drawn.truth.origins[m["part"]] == "original"
        ]
        return sum(years) / len(years)

    names = ("electrolytic", "capacitor", "valve")
    longer = {f"lag__{c}__median_weeks": 160.0 for c in names}
    assert gap(some(a_simulator(**longer), 250)) > gap(some(a_simulator(), 250)) + 1.0
