"""The two plain rules, and how they are scored."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from endbell.chronology import assumptions_in_force
from endbell.dossier import parse_dossier
from endbell.learning.calibration.rules import FIRST_YEAR, RuleYears, rule_years, years_made
from endbell.learning.calibration.scores import NO_YEAR, RuleScore, gain, told
from endbell.reference import Reference

AS_OF = date(2026, 1, 1)


def years_of(marks: dict[str, str], reference: Reference, more: str = "") -> RuleYears:
    rows = "".join(
        f'[[mark]]\npart = "{part}"\nkind = "{text.partition(":")[0]}"\n'
        f'text = "{text.partition(":")[2]}"\n'
        for part, text in marks.items()
    )
    dossier = parse_dossier(f"as_of = 2026-01-01\n{more}{rows}", lambda _: reference, today=AS_OF)
    assert dossier.problems == ()
    made = years_made(reference, AS_OF)
    return rule_years(dossier, reference, assumptions_in_force(reference, {}), made)


def test_the_latest_code_decides_or_the_median(common: Reference) -> None:
    found = years_of(
        {
            "ot": "source-date-code:993-6314",
            "pot-1": "source-date-code:992-6220",
            "sp-1": "source-date-code:995-7102",
        },
        common,
    )
    assert found == RuleYears(1971, 1963, 3)


def test_an_open_decade_is_settled_by_the_codes_that_are_not_open(common: Reference) -> None:
    found = years_of(
        {
            "ot": "source-date-code:993-414",
            "pot-1": "source-date-code:992-7320",
            "pot-2": "source-date-code:992-5451",
        },
        common,
    )
    # 1954 and 1973: their lower median is 1954
    assert found == RuleYears(1973, 1954, 3)


def test_with_nothing_else_most_amps_decide_the_decade(
    common: Reference, brackwater: Reference
) -> None:
    mark = {"ot": "source-date-code:993-314"}
    assert years_of(mark, common).latest in (1963, 1973)
    assert years_of(mark, brackwater).latest == 1963


def test_valves_and_known_replacements_are_passed_over(common: Reference) -> None:
    marks = {
        "ot": "source-date-code:993-6314",
        "valve-1": "date-code:9204",
        "sp-1": "source-date-code:995-9002",
    }
    repair = '[[repair]]\npart = "sp-1"\ndone = "1991"\nreplaced = true\n'
    assert years_of(marks, common).latest == 1990
    assert years_of(marks, common, repair) == RuleYears(1963, 1963, 1)


def test_without_a_code_no_year_is_named(common: Reference) -> None:
    assert years_of({"cab": "year-stamp:64"}, common).codes == 1
    assert years_of({}, common) == RuleYears(None, None, 0)


def test_amps_made_by_year_are_those_of_the_runs(common: Reference, brackwater: Reference) -> None:
    made = years_made(brackwater, AS_OF)
    assert made.sum() == pytest.approx(1.0)
    assert made[1930 - FIRST_YEAR] == 0.0
    assert made[1962 - FIRST_YEAR] > made[1955 - FIRST_YEAR] > 0.0
    assert years_made(common, AS_OF)[1962 - FIRST_YEAR] > 0.01


def test_a_rule_is_scored_by_its_own_errors() -> None:
    rng = np.random.default_rng(1)
    made = np.full(97, 1 / 97)
    true = rng.integers(1950, 1980, 4000)
    named = true - rng.choice([0, 0, 0, 1], 4000)
    named[::50] = NO_YEAR
    rule = RuleScore.learned(named[:2000], true[:2000], made)
    scores = rule.log_scores(named[2000:], true[2000:])
    known = named[2000:] != NO_YEAR
    # a year early in a quarter of cases, and a twentieth lost on either side to smoothing
    entropy = 0.75 * np.log(0.75) + 0.25 * np.log(0.25)
    assert scores[known].mean() == pytest.approx(entropy, abs=0.15)
    assert scores[~known] == pytest.approx(np.full((~known).sum(), np.log(1 / 97)))


def test_a_rule_of_no_use_falls_back_on_what_was_made() -> None:
    rng = np.random.default_rng(2)
    made = np.full(97, 1 / 97)
    true, named = rng.integers(1930, 2027, (2, 3000))
    rule = RuleScore.learned(named, true, made)
    assert rule.share >= 0.5
    assert rule.log_scores(named, true).mean() == pytest.approx(np.log(1 / 97), abs=0.1)


def test_the_distribution_of_a_rule_sums_to_one() -> None:
    made = np.linspace(1, 2, 97)
    made /= made.sum()
    rule = RuleScore.learned(np.array([1960, 1961, 2020]), np.array([1960, 1962, 1950]), made)
    years = np.arange(1930, 2027)
    for named in (1931, 1961, 2024, NO_YEAR):
        scores = rule.log_scores(np.full(97, named), years)
        assert np.exp(scores).sum() == pytest.approx(1.0)


def test_a_rule_that_was_told_its_errors_does_better_in_a_world_of_its_own() -> None:
    rng = np.random.default_rng(3)
    made = np.full(97, 1 / 97)
    true = rng.integers(1950, 1980, 2000)
    here, elsewhere = true - 3, true - 1
    taught = RuleScore.learned(elsewhere, true, made)
    better = told(here, true, made)
    worse = taught.log_scores(here, true)
    assert gain(better, worse).mean > 1.0
    assert gain(better, worse).se < 0.1
