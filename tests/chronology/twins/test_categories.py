"""Features and measured quantities: what was fitted when, and what someone would fit to look right."""

from __future__ import annotations

from datetime import date
from itertools import product
from math import exp, pi, sqrt

import numpy as np
import pytest

from endbell.chronology.categories import (
    Category,
    feature_category,
    joint_seen,
    measured_fit,
    quantity_category,
)
from endbell.chronology.time import Grid
from endbell.chronology.undated import Grouped, Undated, UndatedPart
from endbell.reference.types import Alternative, Feature, FeatureValue, Quantity, Window

from ..amp import Array

GRID = Grid.until(date(1934, 1, 1))
SIZE = GRID.size
MODELS = ("lantern-20", "wick-6", "beacon-45")
LEAK = 0.02
RUNS = np.stack([np.linspace(0, 1, SIZE), np.ones(SIZE), np.linspace(2, 0, SIZE)])


def value(
    name: str, first: int | None, last: int | None, share: float = 1.0, *models: str
) -> FeatureValue:
    window = Window(
        None if first is None else date(first, 1, 1),
        None if last is None else date(last, 12, 31),
        share,
    )
    return FeatureValue(name, window, models)


def feature(name: str, group: str, cost: float, *values: FeatureValue) -> Feature:
    return Feature(name, name, "covering", group, cost, 6.0, values)


COLOUR = feature(
    "colour",
    "dress",
    0.35,
    value("brown", None, 1931),
    value("grey", 1932, None),
    value("grey", None, 1930, 0.4, "wick-6"),
)
CLOTH = feature(
    "cloth",
    "dress",
    0.6,
    value("plain", None, 1930),
    value("silver", 1931, 1932),
    value("dark", 1932, None),
)
HANDLE = feature(
    "handle",
    "dress",
    0.1,
    value("absent", None, 1930, 1.0, "lantern-20"),
    value("strap", 1931, None, 1.0, "lantern-20"),
)
FEATURES = (COLOUR, CLOTH, HANDLE)


def made(f: Feature) -> Category:
    return feature_category(f, LEAK, MODELS, RUNS, GRID)


def slow_p(f: Feature, seen: str, model: str, week: int) -> float:
    """P(v | original, m, B), docs/model.md, section 8."""
    values = list(dict.fromkeys(v.value for v in f.values))
    if "absent" not in values:
        values.append("absent")
    amount = dict.fromkeys(values, 0.0)
    for v in f.values:
        if not v.models or model in v.models:
            amount[v.value] += v.window.weight * float(
                GRID.soft_window(v.window, f.softness_weeks)[week]
            )
    whole = sum(amount.values())
    if whole < 1e-200:
        return 1 / len(values)
    return (1 - LEAK) * amount[seen] / whole + LEAK / len(values)


def slow_match(f: Feature, seen: str, m: int) -> float:
    share = RUNS[m] / RUNS[m].sum()
    return sum(float(share[b]) * slow_p(f, seen, MODELS[m], b) for b in range(SIZE))


@pytest.mark.parametrize("f", FEATURES, ids=lambda f: f.id)
def test_a_feature_is_what_its_rows_say_week_by_week(f: Feature) -> None:
    c = made(f)
    assert c.values == tuple(dict.fromkeys([*(v.value for v in f.values), "absent"]))
    for seen in c.values:
        fast = c.seen(seen)
        for m, model in enumerate(MODELS):
            slow = [slow_p(f, seen, model, b) for b in range(SIZE)]
            assert np.abs(fast[m] - slow).max() < 1e-14
            n = len(c.values)
            replaced = (1 - f.cost_to_fake) * slow_match(f, seen, m) + f.cost_to_fake / n
            assert c.replaced(seen)[m, 0] == pytest.approx(replaced, abs=1e-13)


@pytest.mark.parametrize("f", FEATURES, ids=lambda f: f.id)
def test_the_values_of_a_feature_are_one_whether_original_or_replaced(f: Feature) -> None:
    c = made(f)
    assert sum(c.seen(v) for v in c.values) == pytest.approx(np.ones((3, SIZE)), abs=1e-13)
    assert sum(c.replaced(v) for v in c.values) == pytest.approx(np.ones((3, 1)), abs=1e-13)


def test_a_model_without_rows_says_nothing_of_a_feature() -> None:
    assert np.allclose(made(HANDLE).original[:, 1:], 1 / 2)


def cumulative(f: Feature, seen: str, model: str, week: int) -> tuple[float, float]:
    low = 0.0
    for v in made(f).values:
        p = slow_p(f, v, model, week)
        if v == seen:
            return low, low + p
        low += p
    raise KeyError(seen)


@pytest.mark.parametrize("pair", [(COLOUR, CLOTH), (CLOTH, HANDLE), (COLOUR, CLOTH, HANDLE)])
def test_features_changed_together_share_one_place_in_the_run(pair: tuple[Feature, ...]) -> None:
    for seen in product(*(made(f).values for f in pair)):
        fast = joint_seen([(made(f), v) for f, v in zip(pair, seen, strict=True)])
        for m, b in ((0, 20), (1, 105), (2, 190)):
            ends = [cumulative(f, v, MODELS[m], b) for f, v in zip(pair, seen, strict=True)]
            length = max(0.0, min(e[1] for e in ends) - max(e[0] for e in ends))
            apart = np.prod([slow_p(f, v, MODELS[m], b) for f, v in zip(pair, seen, strict=True)])
            assert fast[m, b] == pytest.approx((1 - LEAK) * length + LEAK * apart, abs=1e-13)


@pytest.mark.parametrize("pair", [(COLOUR,), (COLOUR, CLOTH), (COLOUR, CLOTH, HANDLE)])
def test_all_combinations_of_values_are_one(pair: tuple[Feature, ...]) -> None:
    total = sum(
        joint_seen([(made(f), v) for f, v in zip(pair, seen, strict=True)])
        for seen in product(*(made(f).values for f in pair))
    )
    assert total == pytest.approx(np.ones((3, SIZE)), abs=1e-12)


def test_two_features_of_one_age_count_about_once() -> None:
    late = 190
    one = made(COLOUR).seen("grey")[0, late]
    both = joint_seen([(made(COLOUR), "grey"), (made(CLOTH), "dark")])[0, late]
    assert both > 0.95 * min(one, made(CLOTH).seen("dark")[0, late])


# -- measured ----------------------------------------------------------------------------------------

PITCH = Quantity(
    "pitch",
    "pitch",
    "cloth",
    "mm",
    0.6,
    8.0,
    (
        Alternative("plain", 1.8, 0.06, Window(None, date(1931, 6, 1))),
        Alternative("silver", 2.3, 0.05, Window(date(1931, 6, 1), None)),
        Alternative("reissue", 2.05, 0.1, Window(date(1933, 1, 1), None), ("wick-6",)),
    ),
)


@pytest.mark.parametrize("x", [1.8, 2.2, 2.31, 9.0])
@pytest.mark.parametrize("uncertainty", [0.0, 0.05])
def test_a_measured_value_is_normal_round_each_alternative(x: float, uncertainty: float) -> None:
    fit = measured_fit(PITCH, x, uncertainty, ("plain", "silver", "reissue"), LEAK)
    width = [sqrt(a.sd**2 + uncertainty**2) for a in PITCH.alternatives]
    span = 2.3 - 1.8 + 20 * max(width)
    for p, a, w in zip(fit, PITCH.alternatives, width, strict=True):
        normal = exp(-((x - a.mean) ** 2) / (2 * w**2)) / (w * sqrt(2 * pi))
        assert p == pytest.approx((1 - LEAK) * normal + LEAK / span, rel=1e-13)


def test_a_measured_quantity_is_never_absent() -> None:
    c = quantity_category(PITCH, LEAK, MODELS, RUNS, GRID)
    assert c.values == ("plain", "silver", "reissue")
    assert c.original.sum(axis=0) == pytest.approx(np.ones((3, SIZE)), abs=1e-13)


# -- undated parts, summed over their origins --------------------------------------------------------


def factors(seed: int) -> tuple[Array, Array, Array]:
    r = np.random.default_rng(seed)
    return 0.8 * r.random((1, SIZE)), 0.15 * r.random((3, 1)), 0.05 * np.ones((1, 1))


def undated(spec: list[tuple[str, int, list[tuple[str, Feature, str]]]]) -> list[UndatedPart]:
    return [
        UndatedPart(name, *factors(seed), tuple(Grouped(g, made(f), v) for g, f, v in seen))
        for name, seed, seen in spec
    ]


PARTS = {
    "one without features": [("choke", 1, [])],
    "one with a feature": [("covering", 2, [("dress", COLOUR, "grey")])],
    "two that changed together": [
        ("covering", 2, [("dress", COLOUR, "grey")]),
        ("cloth", 3, [("dress", CLOTH, "plain")]),
    ],
    "three in two groups": [
        ("covering", 2, [("dress", COLOUR, "brown"), ("print", CLOTH, "dark")]),
        ("cloth", 3, [("dress", CLOTH, "silver")]),
        ("handle", 4, [("print", HANDLE, "strap")]),
    ],
    "two features of a group on one part": [
        ("covering", 2, [("dress", COLOUR, "grey"), ("dress", CLOTH, "dark")]),
        ("cloth", 3, [("dress", HANDLE, "absent")]),
    ],
}


def slow_undated(parts: list[UndatedPart], held: dict[str, str]) -> Array:
    """Sum over the origins of every part, with some of them held."""
    total = np.zeros((3, SIZE))
    for origins in product(("original", "later", "period"), repeat=len(parts)):
        if any(held.get(p.part, o) != o for p, o in zip(parts, origins, strict=True)):
            continue
        term = np.ones((3, SIZE))
        groups: dict[str, list[tuple[Category, str]]] = {}
        for p, o in zip(parts, origins, strict=True):
            term = term * getattr(p, o)
            for g in p.grouped:
                if o == "original":
                    groups.setdefault(g.group, []).append((g.category, g.value))
                else:
                    term = term * g.category.replaced(g.value)
        for seen in groups.values():
            term = term * joint_seen(seen)
        total += term
    return total


@pytest.mark.parametrize("name", PARTS)
def test_undated_parts_are_summed_over_every_origin(name: str) -> None:
    parts = undated(PARTS[name])
    fast = Undated(parts)

    def same(found: Array, held: dict[str, str]) -> bool:
        slow = slow_undated(parts, held)
        return bool(np.abs(np.broadcast_to(found[:, 0, :], slow.shape) - slow).max() < 1e-14)

    assert same(fast.total(), {})
    for p in parts:
        for found, origin in zip(
            fast.origins(p.part), ("original", "later", "period"), strict=True
        ):
            assert same(found, {p.part: origin})
    chosen = [p.part for p in parts][:2]
    assert same(fast.all_original(chosen), dict.fromkeys(chosen, "original"))


def test_undated_parts_on_some_weeks_are_those_weeks() -> None:
    parts = undated(PARTS["three in two groups"])
    weeks = np.array([0, 5, 150, SIZE - 1])
    assert np.allclose(
        Undated(parts).on(weeks).total(), Undated(parts).total()[:, :, weeks], atol=1e-15
    )


def test_a_part_that_is_never_replaced_has_no_other_origin() -> None:
    part = UndatedPart("chassis", np.ones((1, SIZE)), np.zeros((1, 1)), np.zeros((1, 1)))
    original, later, period = Undated([part]).origins("chassis")
    assert (original == 1).all() and not later.any() and not period.any()
