"""Claims go by what is written, never by the truth; twists do what they say."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date

from endbell.learning.simulation import Simulator, Twist
from endbell.learning.simulation.claims import claim
from endbell.learning.simulation.deliveries import Fitted
from endbell.learning.simulation.dice import Again, Dice
from endbell.learning.simulation.drawing import Outcome, outcome
from endbell.learning.simulation.labels import Labels
from endbell.reference import Reference

from .conftest import Seen, a_simulator, some


def an_outcome(simulator: Simulator, i: int) -> tuple[object, Outcome]:
    dice = Dice(9, i)
    while True:
        design = simulator._planner.design(dice, "X")
        for _ in range(50):
            try:
                return design, outcome(dice, simulator._world, simulator._eye, design)
            except Again:
                continue


def test_the_same_marks_are_claimed_the_same_whatever_is_true(brackwater: Reference) -> None:
    simulator = a_simulator("brackwater", reference=brackwater)
    for i in range(60):
        design, found = an_outcome(simulator, i)
        other = replace(
            found,
            fitted=Fitted(3 - found.fitted.model, 4000, 0.0),
            origins=dict.fromkeys(found.origins, "later"),
            married=frozenset({"cabinet"}),
        )
        said = [claim(Dice(1, i), simulator._world, design, f) for f in (found, other)]
        assert said[0] == said[1]


def test_a_claim_is_true_when_every_clause_is(with_maker: list[Seen]) -> None:
    looked = Counter[str]()
    for d in with_maker:
        truth, said = d.drawn.truth, d.file.get("claim", {})
        if truth.claim_true is None:
            assert not said
            continue
        looked[str(truth.claim_true)] += 1
        year = int(truth.build[:4])
        built = said.get("built", "1900/2100").rstrip("?").replace("X", "0/")
        first = int(built.split("/")[0])
        last = int(built.split("/")[1] or first + 9) if "/" in built else first
        year_right = first <= year <= last
        model_right = said.get("model", truth.model) == truth.model
        if not (year_right and model_right):
            assert truth.claim_true is False
        elif "original" not in said or all(o == "original" for o in truth.origins.values()):
            assert truth.claim_true is True
        elif said["original"] == ["everything"] and "except" not in said:
            assert truth.claim_true is False
    assert min(looked.values()) > 50


def test_claims_are_of_every_kind(with_maker: list[Seen]) -> None:
    claims = [d.file["claim"] for d in with_maker if "claim" in d.file]
    built = [c["built"] for c in claims if "built" in c]
    assert {"/" in b for b in built} == {True, False}
    assert any(b.endswith("X") for b in built)
    assert any(b.endswith("?") for b in built)
    assert any(c.get("except") for c in claims)
    assert any("everything" not in c.get("original", ["everything"]) for c in claims)
    assert any("model" in c for c in claims)
    assert any("model" not in c for c in claims)


def test_with_every_mark_wrong_the_faceplate_names_any_model(
    brackwater: Reference, with_maker: list[Seen]
) -> None:
    def named(dossiers: list[Seen]) -> list[bool]:
        legends = {
            "lantern": "lantern-20",
            "lantern-reverb": "lantern-20-reverb",
            "beacon": "beacon-45",
            "wick": "wick-6",
        }
        return [
            legends.get(m["value"]) == d.drawn.truth.model
            for d in dossiers
            for m in d.marks
            if m.get("feature") == "faceplate-legend" and "value" in m
        ]

    twisted = a_simulator("brackwater", reference=brackwater, twist=Twist(wrong_marks=1.0))
    wrong = named(some(twisted, 250))
    right = named(with_maker)
    assert sum(right) > 0.85 * len(right)
    assert sum(wrong) < 0.4 * len(wrong)


def test_a_share_of_wrong_marks_leaves_the_others(
    brackwater: Reference, with_maker: list[Seen]
) -> None:
    def agrees(dossiers: list[Seen]) -> float:
        scheme = brackwater.tables.charts[0]
        hits = [
            abs(scheme.first_year + scheme.years.index(m["text"][0]) - year) <= 1
            for d in dossiers
            for m in d.marks
            for year in [int(d.drawn.truth.build[:4])]
            if m["kind"] == "chart-letters"
            and m.get("text", "?").isalpha()
            and "legibility" not in m
        ]
        return sum(hits) / len(hits)

    twisted = a_simulator("brackwater", reference=brackwater, twist=Twist(wrong_marks=0.4))
    assert agrees(with_maker) > 0.9
    assert 0.45 < agrees(some(twisted, 250)) < 0.85


def test_label_terms_fit_their_years_and_leak_outside(brackwater: Reference) -> None:
    values = {name: a.value for name, a in brackwater.assumptions.items()}
    labels = Labels(brackwater.tables, values, 5000)
    printing = labels.printing("RETMA, Chicago 16, Ill.")
    inside, before, long_before = (
        labels.fit([printing], (date(year, 6, 1) - date(1929, 12, 30)).days // 7)
        for year in (1955, 1951, 1940)
    )
    assert inside == labels.best([printing]) == 1.0
    assert 0.2 < before < 0.6
    assert 0.0 < long_before < 0.01


def test_what_is_drawn_as_a_label_is_dated(with_maker: list[Seen]) -> None:
    texts = {
        m["text"] for d in with_maker for m in d.marks if m["kind"] == "label-text" and "text" in m
    }
    assert len(texts) > 40
