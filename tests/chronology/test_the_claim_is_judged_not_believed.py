"""The seller's claim never moves the distribution: it is what is being judged."""

from __future__ import annotations

import numpy as np
import pytest

from endbell.chronology import Verdict, weigh
from endbell.chronology.workspace import Workspace
from endbell.dossier import Claim
from endbell.reference import Reference

from .amp import amp, claim, code, looks

MARKS = (
    code("pt", "993-340"),
    code("ot", "993-343"),
    code("pot-1", "992-3?8", "worn"),
    code("sp-1", "995-402"),
    looks("covering", "covering-colour", "grey-tweed"),
    looks("knobs", "knob-shape", "skirted"),
)
CLAIMS = {
    "built": claim(built="1954"),
    "another build": claim(built="1969/1971"),
    "beyond as_of": claim(built="2010"),
    "model": claim(model="wick-6"),
    "another model": claim(model="beacon-45"),
    "unknown model": claim(model="no-such-model"),
    "maker": claim(maker="brackwater"),
    "another maker": claim(maker="somebody"),
    "all original": claim(original=["everything"]),
    "but": claim(original=["everything"], excluded=["valves", "pots"]),
    "all of it": claim(
        maker="brackwater", model="lantern-20", built="1963", original=["everything"]
    ),
}


def weighed(said: Claim, reference: Reference, workspace: Workspace | None = None) -> Verdict:
    return weigh(amp(MARKS, reference, claim=said), reference, looks=0, workspace=workspace)


@pytest.fixture(scope="module")
def unclaimed(brackwater: Reference, workspace: Workspace) -> Verdict:
    return weighed(claim(), brackwater, workspace)


@pytest.mark.parametrize("name", CLAIMS)
def test_whatever_the_seller_says_the_distribution_stays_bit_for_bit(
    name: str, brackwater: Reference, workspace: Workspace, unclaimed: Verdict
) -> None:
    verdict = weighed(CLAIMS[name], brackwater, workspace)
    assert np.array_equal(verdict.build.weeks, unclaimed.build.weeks)
    assert verdict.log_evidence == unclaimed.log_evidence
    assert verdict.models == unclaimed.models
    assert verdict.parts == unclaimed.parts
    assert verdict.marks == unclaimed.marks
    assert verdict.assemblies == unclaimed.assemblies


def test_without_a_claim_nothing_is_said_of_one(unclaimed: Verdict) -> None:
    assert unclaimed.claim is None
    assert not any("claim" in s.text for s in unclaimed.words)


def test_a_claim_that_fits_stands_and_one_that_does_not_falls(
    brackwater: Reference, workspace: Workspace
) -> None:
    right = weighed(claim(built="1963/1964"), brackwater, workspace)
    wrong = weighed(claim(built="1958"), brackwater, workspace)
    assert right.claim is not None and right.claim.p is not None and right.claim.p > 0.9
    assert wrong.claim is not None and wrong.claim.p is not None and wrong.claim.p < 0.05


def test_the_whole_claim_is_never_likelier_than_its_weakest_clause(
    brackwater: Reference, workspace: Workspace
) -> None:
    verdict = weighed(CLAIMS["all of it"], brackwater, workspace)
    assert verdict.claim is not None and verdict.claim.p is not None
    clauses = [c.p for c in verdict.claim.clauses if c.p is not None]
    assert verdict.claim.p <= min(clauses) + 1e-9
    assert verdict.claim.p >= 1 - sum(1 - c for c in clauses) - 1e-9


def test_a_claimed_clause_of_a_date_is_the_mass_of_its_weeks(
    brackwater: Reference, workspace: Workspace
) -> None:
    verdict = weighed(claim(built="1963"), brackwater, workspace)
    assert verdict.claim is not None
    assert verdict.claim.clauses[0].clause == "built 1963"
    assert verdict.claim.p == pytest.approx(verdict.build.years[1963], abs=1e-12)


def test_parts_that_were_not_looked_at_are_listed_apart_and_never_counted(
    brackwater: Reference, workspace: Workspace
) -> None:
    verdict = weighed(
        claim(model="lantern-20-reverb", original=["everything"]), brackwater, workspace
    )
    assert verdict.claim is not None
    judged = {c.clause.split()[0] for c in verdict.claim.clauses}
    assert "tank" in verdict.claim.not_looked_at
    assert not judged & set(verdict.claim.not_looked_at)


def test_a_model_that_no_pack_knows_is_left_unjudged(
    brackwater: Reference, workspace: Workspace
) -> None:
    verdict = weighed(CLAIMS["unknown model"], brackwater, workspace)
    assert verdict.claim is not None
    assert any("no-such-model" in said for said in verdict.claim.unjudged)
    assert all("no-such-model" not in c.clause for c in verdict.claim.clauses)
