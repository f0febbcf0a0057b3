"""The verdict as the contract has it: every field said, under its own name, and nothing rounded away."""

from __future__ import annotations

from typing import Any

import pytest

from endbell.chronology import Verdict, as_json, weigh
from endbell.chronology.workspace import Workspace
from endbell.reference import Reference

from .amp import amp, claim, code, joint, looks, paper, stamped


@pytest.fixture(scope="module")
def verdict(brackwater: Reference, workspace: Workspace) -> Verdict:
    marks = (
        code("pt", "993-6340"),
        code("ot", "993-3?3", "worn"),
        code("pot-1", "992-6338"),
        code("pot-2", "992-6338"),
        code("sp-1", "995-7123"),
        code("choke", "993-6254"),
        stamped("cab", "14-5-57", "hand-date"),
        looks("covering", "covering-colour", "oxblood-cloth"),
        joint("pt", "joint-untouched"),
        paper("1974-05-04"),
        code("cap-1", "993-6253"),
    )
    said = claim(built="1964", model="lantern-20", original=["everything"], excluded=["pots"])
    dossier = amp(marks, brackwater, claim=said)
    return weigh(dossier, brackwater, looks=2, workspace=workspace)


@pytest.fixture(scope="module")
def form(verdict: Verdict) -> dict[str, Any]:
    return as_json(verdict, full=True)


def nine(x: float | None) -> float | None:
    return None if x is None else float(f"{x:.9g}")


def test_the_contracts_keys_are_all_there(form: dict[str, Any]) -> None:
    assert {
        "format", "dossier", "endbell", "as_of", "packs", "assumptions", "build", "log_evidence", "models",
        "parts", "deliveries", "assemblies", "claim", "marks", "conflicts", "stable", "unstable", "next",
        "words", "cautions", "not_weighed",
    } <= set(form)  # fmt: skip
    assert form["format"] == "endbell-verdict/1"
    assert (form["dossier"], form["file"], form["as_of"]) == ("test", "test.toml", "1975-W22")
    assert set(form["packs"]) == {"standards", "common-practice", "brackwater"}


def test_the_build_date(form: dict[str, Any], verdict: Verdict) -> None:
    build = form["build"]
    assert build["edtf"] == verdict.build.edtf and build["mode"] == verdict.build.mode
    assert build["mode_year"] == verdict.build.mode_year
    assert build["p_mode_year"] == nine(verdict.build.p_mode_year)
    assert build["years"] == {str(y): nine(p) for y, p in verdict.build.years.items()}
    assert build["decades"] == {str(y): nine(p) for y, p in verdict.build.decades.items()}
    for level, runs in verdict.build.sets.items():
        assert build["sets"][level] == [[a, b, nine(p)] for a, b, p in runs]
    assert build["weeks"] == {
        "start": "1930-W01",
        "p": [nine(p) for p in verdict.build.weeks.tolist()],
    }
    assert as_json(verdict)["build"]["weeks"] == {"start": "1930-W01", "p": []}


def test_models_parts_deliveries_and_assemblies(form: dict[str, Any], verdict: Verdict) -> None:
    assert form["models"] == [{"model": m.model, "p": nine(m.p)} for m in verdict.models]
    assert list(form["parts"]) == [p.part for p in verdict.parts]
    for p in verdict.parts:
        told = form["parts"][p.part]
        assert (told["class"], told["assembly"], told["word"], told["stable"]) == (
            p.part_class, p.assembly, p.word, p.stable,
        )  # fmt: skip
        assert told["original"] == nine(p.original)
        assert told["period_replacement"] == nine(p.period_replacement)
        assert told["later_replacement"] == nine(p.later_replacement)
        assert told["original"] + told["period_replacement"] + told[
            "later_replacement"
        ] == pytest.approx(1)
    assert form["deliveries"] == [
        {"parts": list(d.parts), "together": nine(d.together), "all_original": nine(d.all_original)}
        for d in verdict.deliveries
    ]
    assert form["deliveries"][0]["parts"] == ["pot-1", "pot-2"]
    for a in verdict.assemblies:
        told = form["assemblies"][a.assembly]
        assert told["married"] == nine(a.married)
        assert told["years"] == {str(y): nine(p) for y, p in a.years.items()}
        assert set(told["sets"]) == {"0.50", "0.80", "0.95"}


def test_the_claim(form: dict[str, Any], verdict: Verdict) -> None:
    assert verdict.claim is not None
    told = form["claim"]
    assert told["p"] == nine(verdict.claim.p) and told["weakest"] == verdict.claim.weakest
    assert told["clauses"] == [{"clause": c.clause, "p": nine(c.p)} for c in verdict.claim.clauses]
    assert told["not_looked_at"] == list(verdict.claim.not_looked_at)
    clauses = [c["clause"] for c in told["clauses"]]
    assert clauses[:2] == ["built 1964", "model lantern-20"]
    assert "pt original" in clauses and "pot-1 original" not in clauses
    assert min(told["clauses"], key=lambda c: c["p"])["clause"] == told["weakest"]


def test_the_marks(form: dict[str, Any], verdict: Verdict) -> None:
    for told, m in zip(form["marks"], verdict.marks, strict=True):
        mark = m.mark
        assert (told["n"], told["part"], told["kind"], told["text"]) == (
            mark.n,
            mark.part,
            mark.kind,
            mark.text,
        )
        assert (told["legibility"], told["result"], told["weighed"]) == (
            mark.legibility,
            mark.result,
            m.weighed,
        )
        assert told["influence_bits"] == nine(m.influence_bits) and told["conflict"] == nine(
            m.conflict
        )
        assert [(r["date"], r["p"]) for r in told["readings"]] == [
            (r.label, nine(r.p)) for r in m.readings
        ]
    first = form["marks"][0]["readings"][0]
    assert first["date"].startswith("1963-W") and first["source"] == "993"
    assert first["source_name"].startswith("Halden Coil")
    assert {s["group"] for s in first["spans"]} >= {"source", "year", "week"}
    assert (first["first"], first["last"]) == ("1963-09-30", "1963-10-06")
    assert (
        form["marks"][7]["feature"] == "covering-colour"
        and form["marks"][7]["value"] == "oxblood-cloth"
    )
    assert form["marks"][9]["date"] == "1974-05-04"
    assert form["marks"][10]["readings"][0]["flags"] == ["week 53 of a year of 52 weeks"]
    worn = form["marks"][1]["readings"][0]
    assert any(s["doubtful"] for s in worn["spans"])


def test_readings_of_a_mark_are_weights_best_first(verdict: Verdict) -> None:
    for m in verdict.marks:
        weights = [r.p for r in m.readings]
        assert weights == sorted(weights, reverse=True) and sum(weights) <= 1 + 1e-9


def test_conflicts_leanings_looks_words_and_rows_left_out(
    form: dict[str, Any], verdict: Verdict
) -> None:
    assert form["conflicts"] == [
        {"marks": list(c.marks), "p_all_right": nine(c.p_all_right), "says": c.says}
        for c in verdict.conflicts
    ]
    assert form["conflicts"] and form["stable"] == (not form["unstable"])
    assert form["unstable"] == [
        {"assumption": u.assumption, "factor": u.factor, "what": u.what} for u in verdict.unstable
    ]
    assert len(form["next"]) == len(verdict.next) > 0
    for told, n in zip(form["next"], verdict.next, strict=True):
        assert (told["check"], told["title"], told["part"], told["level"]) == (
            n.check,
            n.title,
            n.part,
            n.level,
        )
        assert (told["minutes"], told["settles"], told["caution"]) == (
            n.minutes,
            n.settles,
            n.caution,
        )
        assert told["gain_bits"] == nine(n.gain_bits) and told["bits_per_minute"] == nine(
            n.bits_per_minute
        )
        assert (told["then_bits"], told["then"]) == (nine(n.then_bits), n.then)
    assert any(n["then"] for n in form["next"])
    assert form["words"] == [
        {
            "text": s.text,
            "marks": list(s.marks),
            "numbers": {k: nine(v) for k, v in s.numbers.items()},
        }
        for s in verdict.words
    ]
    (row,) = form["not_weighed"]
    assert (row["file"], row["table"], row["header"]) == ("test.toml", 6, "mark")
    assert "54" in row["found"] and row["accepted"] and row["nearest"]
    assert form["cautions"] == list(verdict.cautions) and form["notes"] == list(verdict.notes)


def test_assumptions_in_force_are_all_told_in_order(form: dict[str, Any], verdict: Verdict) -> None:
    assert list(form["assumptions"]) == sorted(verdict.assumptions)
    assert form["assumptions"]["replaced.loudspeaker.probability"] == 0.3


def test_an_assumption_that_no_pack_has_is_refused(common: Reference) -> None:
    with pytest.raises(KeyError, match=r"no\.such\.name"):
        weigh(amp([], common), common, {"no.such.name": 1.0}, looks=0)


def test_an_assumption_taken_otherwise_is_told(common: Reference, workspace: Workspace) -> None:
    verdict = weigh(amp([], common), common, {"prior.leak": 0.05}, looks=0, workspace=workspace)
    assert as_json(verdict)["assumptions"]["prior.leak"] == 0.05
