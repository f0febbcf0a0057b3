"""Amps as they come to the bench, one question each."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from endbell.chronology import as_json, weigh
from endbell.chronology.weighing import posterior
from endbell.chronology.workspace import Workspace
from endbell.dossier import Mark, Part
from endbell.reference import Reference

from .amp import amp, code, joint, looks, mass, paper, part_of, quantile, repair, stamped
from .asking import date_of

CHASSIS_OF_1963 = (
    code("pt", "993-6340"),
    code("ot", "993-6343"),
    code("pot-1", "992-6338"),
    code("pot-2", "992-6338"),
)


# -- assemblies ------------------------------------------------------------------------------------


def test_a_cabinet_of_another_time_is_another_amps_and_does_not_move_the_date(
    brackwater: Reference, workspace: Workspace
) -> None:
    cabinet = (
        stamped("cab", "14-5-57", "hand-date"),
        looks("covering", "covering-colour", "oxblood-cloth"),
        looks("baffle", "loudspeaker-fixing", "bolts-through"),
        looks("label", "label-form", "typed-paper"),
    )
    alone = date_of(amp(CHASSIS_OF_1963, brackwater), brackwater, workspace)
    verdict = weigh(
        amp((*CHASSIS_OF_1963, *cabinet), brackwater), brackwater, looks=0, workspace=workspace
    )
    (told,) = verdict.assemblies
    assert told.assembly == "cabinet" and told.married > 0.95
    assert max(told.years, key=lambda y: told.years[y]) == 1957
    assert abs(quantile(verdict.build.weeks, 0.5) - quantile(alone, 0.5)) <= 2
    for part in ("cab", "covering", "baffle", "label"):
        assert part_of(verdict, part).word in ("replaced", "probably replaced")
    assert any("another amp's" in s.text for s in verdict.words)


def test_a_cabinet_of_the_same_time_belongs(brackwater: Reference, workspace: Workspace) -> None:
    cabinet = (
        stamped("cab", "14-12-63", "hand-date"),
        looks("covering", "covering-colour", "grey-tweed"),
    )
    verdict = weigh(
        amp((*CHASSIS_OF_1963, *cabinet), brackwater), brackwater, looks=0, workspace=workspace
    )
    assert verdict.assemblies[0].married < 0.02
    assert part_of(verdict, "cab").word == "original"


def test_the_chassis_and_the_loudspeakers_are_never_called_married(
    brackwater: Reference, workspace: Workspace
) -> None:
    verdict = weigh(
        amp((*CHASSIS_OF_1963, code("sp-1", "995-712"), code("sp-2", "995-712")), brackwater),
        brackwater,
        looks=0,
        workspace=workspace,
    )
    assert verdict.assemblies == ()


# -- repairs and papers ----------------------------------------------------------------------------


def test_a_part_replaced_on_record_is_a_later_replacement(
    common: Reference, workspace: Workspace
) -> None:
    marks = (*CHASSIS_OF_1963, code("elco-1", "998-7112"))
    known = amp(marks, common, repairs=[repair("elco-1", "1971-09")])
    verdict = weigh(known, common, looks=0, workspace=workspace)
    assert part_of(verdict, "elco-1").later_replacement > 0.98


def test_a_known_repair_says_that_the_amp_existed_by_then(
    common: Reference, workspace: Workspace
) -> None:
    marks = (code("pt", "993-340"), code("ot", "993-343"))
    before = date_of(amp(marks, common), common, workspace)
    after = date_of(amp(marks, common, repairs=[repair("elco-1", "1958-05")]), common, workspace)
    assert mass(before, date(1958, 6, 9), None) > 0.5
    assert mass(after, date(1958, 6, 9), None) < 0.05


def test_a_repair_that_replaced_nothing_is_only_kept(
    common: Reference, workspace: Workspace
) -> None:
    marks = (code("pt", "993-340"), code("ot", "993-343"))
    plain = date_of(amp(marks, common), common, workspace)
    noted = amp(marks, common, repairs=[repair("pt", "1958-05", replaced=False)])
    assert np.array_equal(plain, date_of(noted, common, workspace))


def test_a_paper_of_1965_rules_out_later_builds(common: Reference, workspace: Workspace) -> None:
    marks = (code("pt", "993-340"), code("ot", "993-343"))
    dossier = amp([*marks, paper("1965-02-14")], common, as_of=date(1990, 1, 1))
    before = date_of(amp(marks, common, as_of=date(1990, 1, 1)), common, workspace)
    after = date_of(dossier, common, workspace)
    # a paper may belong to another amp (one in fifty): that much stays
    assert mass(before, date(1965, 2, 22), None) > 0.3
    assert mass(after, date(1965, 2, 22), None) < 0.02
    assert mass(after, None, date(1965, 2, 21)) > 0.98


def test_a_paper_of_today_says_nothing(common: Reference, workspace: Workspace) -> None:
    marks = (code("pt", "993-340"),)
    before = date_of(amp(marks, common), common, workspace)
    after = date_of(amp([*marks, paper("1975-06-01")], common), common, workspace)
    assert np.abs(before - after).max() < 1e-14


# -- serials, models, features ---------------------------------------------------------------------


def test_a_serial_finds_its_place_in_the_run(brackwater: Reference, workspace: Workspace) -> None:
    verdict = weigh(
        amp([stamped("chassis", "LR 1731", "serial")], brackwater),
        brackwater,
        looks=0,
        workspace=workspace,
    )
    # 1,631 of 2,099 into the run from April 1961 to December 1964: February 1964
    assert mass(verdict.build.weeks, date(1963, 8, 1), date(1964, 9, 1)) > 0.9
    assert verdict.models[0].model == "lantern-20-reverb" and verdict.models[0].p > 0.9


@pytest.mark.parametrize(
    ("legend", "model"),
    [
        ("lantern", "lantern-20"),
        ("lantern-reverb", "lantern-20-reverb"),
        ("beacon", "beacon-45"),
        ("wick", "wick-6"),
    ],
)
def test_models_are_told_apart_by_what_only_one_of_them_has(
    legend: str, model: str, brackwater: Reference, workspace: Workspace
) -> None:
    marks = (
        code("pt", "993-6240"),
        looks("faceplate", "faceplate-legend", legend),
    )
    verdict = weigh(amp(marks, brackwater), brackwater, looks=0, workspace=workspace)
    assert verdict.models[0].model == model and verdict.models[0].p > 0.85
    assert sum(m.p for m in verdict.models) == pytest.approx(1.0, abs=1e-9)


def test_rivals_can_be_named_and_only_they_are_compared(
    brackwater: Reference, workspace: Workspace
) -> None:
    dossier = amp(CHASSIS_OF_1963, brackwater)
    verdict = weigh(
        dossier, brackwater, models=["wick-6", "beacon-45"], looks=0, workspace=workspace
    )
    assert {m.model for m in verdict.models} == {"wick-6", "beacon-45"}


def test_a_reverb_transformer_speaks_for_the_model_that_has_one(
    brackwater: Reference, workspace: Workspace
) -> None:
    without = weigh(amp(CHASSIS_OF_1963, brackwater), brackwater, looks=0, workspace=workspace)
    with_it = weigh(
        amp((*CHASSIS_OF_1963, code("rt", "993-6341")), brackwater),
        brackwater,
        looks=0,
        workspace=workspace,
    )
    before = {m.model: m.p for m in without.models}
    after = {m.model: m.p for m in with_it.models}
    assert after["lantern-20-reverb"] > 0.9 > before["lantern-20-reverb"]


def test_a_part_that_no_model_expects_is_no_evidence_between_them(
    brackwater: Reference, workspace: Workspace
) -> None:
    # two chokes or a third transformer of class 'other': no list of expected parts names that class
    odd = Part("extra", "other", "chassis")
    verdict = weigh(
        amp((*CHASSIS_OF_1963, joint("extra", "extra-holes")), brackwater, parts=[odd]),
        brackwater,
        looks=0,
        workspace=workspace,
    )
    plain = weigh(amp(CHASSIS_OF_1963, brackwater), brackwater, looks=0, workspace=workspace)
    for told in plain.models:
        other = next(m for m in verdict.models if m.model == told.model)
        assert other.p == pytest.approx(told.p, abs=1e-12)
    assert part_of(verdict, "extra").original < 0.5


def test_a_feature_of_the_wrong_era_is_replaced_if_anyone_can_buy_one(
    brackwater: Reference, workspace: Workspace
) -> None:
    knobs = looks("knobs", "knob-shape", "ribbed-cap")
    punch = looks("chassis", "chassis-punch", "round-vents")
    verdict = weigh(
        amp((*CHASSIS_OF_1963, knobs, punch), brackwater), brackwater, looks=0, workspace=workspace
    )
    assert part_of(verdict, "knobs").original < 0.3
    assert verdict.build.years[1963] + verdict.build.years[1964] > 0.95


def test_what_anyone_can_buy_says_less_than_what_is_hard_to_fake(
    brackwater: Reference, workspace: Workspace
) -> None:
    def odds_gained(part: str, feature: str, value: str) -> float:
        marks = (*CHASSIS_OF_1963, looks(part, feature, value))
        verdict = weigh(amp(marks, brackwater), brackwater, looks=0, workspace=workspace)
        rho = verdict.assumptions[f"replaced.{part}.probability"]
        p = part_of(verdict, part).original
        return p / (1 - p) * rho / (1 - rho)

    knobs = odds_gained("knobs", "knob-shape", "skirted")
    plate = odds_gained("faceplate", "faceplate-finish", "brushed-steel")
    assert 1.0 < knobs < plate


def test_a_measured_weave_says_which_cloth_it_is(
    brackwater: Reference, workspace: Workspace
) -> None:
    def pitch(value: float) -> Mark:
        return Mark(
            0, "cloth", "measured", quantity="weave-pitch", value=value, unit="mm", uncertainty=0.05
        )

    cloth = looks("cloth", "cloth-pattern", "silver-thread")
    seen = (looks("faceplate", "faceplate-legend", "lantern"), cloth)

    def reissue(value: float) -> float:
        dossier = amp([*seen, pitch(value)], brackwater, as_of=date(2005, 1, 1))
        return mass(date_of(dossier, brackwater, workspace), date(1990, 1, 1), None)

    assert reissue(2.30) < 0.05 < reissue(2.05)
    assert reissue(2.05) > 0.5


def test_a_measured_length_is_the_same_in_other_units(
    brackwater: Reference, workspace: Workspace
) -> None:
    mm = Mark(
        0, "cloth", "measured", quantity="weave-pitch", value=2.3, unit="mm", uncertainty=0.05
    )
    cm = replace(mm, value=0.23, unit="cm", uncertainty=0.005)
    a = date_of(amp([mm], brackwater), brackwater, workspace)
    b = date_of(amp([cm], brackwater), brackwater, workspace)
    assert np.abs(a - b).max() < 1e-12


# -- conditions ------------------------------------------------------------------------------------


def test_an_untouched_joint_speaks_for_its_part_and_a_new_one_against_it(
    common: Reference, workspace: Workspace
) -> None:
    def original(word: str | None) -> float:
        marks = [*CHASSIS_OF_1963] + ([] if word is None else [joint("pt", word)])
        return part_of(
            weigh(amp(marks, common), common, looks=0, workspace=workspace), "pt"
        ).original

    plain = original(None)
    assert original("joint-untouched") > plain > original("joint-reflowed") > 0.5
    assert original("joint-new-solder") < original("joint-reflowed")


def test_a_joint_tells_of_its_own_part_only(common: Reference, workspace: Workspace) -> None:
    plain = weigh(amp([code("pt", "993-6340")], common), common, looks=0, workspace=workspace)
    marks = [code("pt", "993-6340"), joint("choke", "joint-new-solder")]
    noted = weigh(amp(marks, common), common, looks=0, workspace=workspace)
    assert np.abs(plain.build.weeks - noted.build.weeks).max() < 1e-14
    assert part_of(plain, "pt").original == pytest.approx(part_of(noted, "pt").original, abs=1e-12)
    o, l, p = 0.92 * 0.01, 0.08 * 0.85 * 0.35, 0.08 * 0.15 * 0.15
    assert part_of(noted, "choke").original == pytest.approx(o / (o + l + p), abs=1e-12)


def test_a_code_looked_for_and_not_found_says_what_the_packs_know_of_it(
    common: Reference, workspace: Workspace
) -> None:
    silent = Mark(0, "elco-1", "date-code", "", result="nothing-found")
    verdict = weigh(amp([*CHASSIS_OF_1963, silent], common), common, looks=0, workspace=workspace)
    # half of the factory's electrolytics bear a code, six in ten of the later ones
    original, replaced = 0.3 * (1 - 0.5), 0.7 * (1 - 0.6)
    told = part_of(verdict, "elco-1").original
    assert told == pytest.approx(original / (original + replaced), abs=1e-12)


def test_a_mark_not_found_that_the_packs_know_nothing_of_says_nothing(
    common: Reference, workspace: Workspace
) -> None:
    silent = Mark(0, "choke", "source-date-code", "", result="nothing-found")
    verdict = weigh(amp([*CHASSIS_OF_1963, silent], common), common, looks=0, workspace=workspace)
    assert part_of(verdict, "choke").original == pytest.approx(0.92, abs=1e-12)


def test_a_label_of_the_right_years_speaks_for_its_cabinet_and_another_against_it(
    common: Reference, workspace: Workspace
) -> None:
    def original(text: str) -> float:
        marks = [*CHASSIS_OF_1963, stamped("label", text, "patent-number")]
        verdict = weigh(amp(marks, common), common, looks=0, workspace=workspace)
        return part_of(verdict, "label").original

    # granted late in 1961, and in 1970
    assert original("3,010,000") > 0.9
    assert original("3,500,000") < 0.1


def test_a_hand_date_that_can_be_read_two_ways_leans_to_the_one_that_fits(
    common: Reference, workspace: Workspace
) -> None:
    def evidence(text: str) -> float:
        marks = [*CHASSIS_OF_1963, stamped("chassis", text, "hand-date")]
        found = posterior(amp(marks, common), common, workspace=workspace)
        return float(np.exp(found.joint.log_evidence))

    marks = [*CHASSIS_OF_1963, stamped("chassis", "2-12-63", "hand-date")]
    verdict = weigh(amp(marks, common), common, looks=0, workspace=workspace)
    told = {r.label: r.p for r in verdict.marks[-1].readings}
    december, february = evidence("2 DEC 63"), evidence("12 FEB 63")
    both = told["1963-12-02"] / (told["1963-12-02"] + told["1963-02-12"])
    assert both == pytest.approx(december / (december + february), abs=1e-9)
    assert told["1963-12-02"] > 0.9


# -- codes at the edges ----------------------------------------------------------------------------


def test_week_53_of_a_year_of_52_weeks_is_the_first_of_the_next(
    common: Reference, workspace: Workspace
) -> None:
    verdict = weigh(amp([code("pt", "993-6253")], common), common, looks=0, workspace=workspace)
    assert not verdict.not_weighed
    best = verdict.marks[0].readings[0]
    assert best.label == "1962-W53" and "week 53 of a year of 52 weeks" in best.flags
    first = date_of(amp([code("pt", "993-6301")], common), common, workspace)
    assert abs(quantile(verdict.build.weeks, 0.5) - quantile(first, 0.5)) <= 1


def test_week_53_of_a_year_of_53_weeks_is_nothing_odd(
    common: Reference, workspace: Workspace
) -> None:
    verdict = weigh(amp([code("pt", "993-6453")], common), common, looks=0, workspace=workspace)
    best = verdict.marks[0].readings[0]
    assert best.label == "1964-W53" and best.flags == ()


def test_week_54_is_not_weighed_and_said_so(common: Reference, workspace: Workspace) -> None:
    verdict = weigh(
        amp([code("pt", "993-6254"), code("ot", "993-6250")], common),
        common,
        looks=0,
        workspace=workspace,
    )
    (problem,) = verdict.not_weighed
    assert problem.table == 1 and problem.nearest
    assert not verdict.marks[0].weighed and verdict.marks[1].weighed


def test_a_code_from_the_future_is_not_weighed_but_listed(
    common: Reference, workspace: Workspace
) -> None:
    marks = [code("pt", "993-6340"), code("ot", "993-8103")]
    verdict = weigh(amp(marks, common), common, looks=0, workspace=workspace)
    (problem,) = verdict.not_weighed
    assert problem.table == 2 and "993-8103" in problem.found
    assert not verdict.marks[1].weighed and verdict.marks[1].influence_bits == 0.0
    without = date_of(amp(marks[:1], common), common, workspace)
    assert np.abs(verdict.build.weeks - without).max() < 1e-14


def test_a_one_digit_code_that_would_be_in_the_future_is_of_an_earlier_decade(
    common: Reference, workspace: Workspace
) -> None:
    p = date_of(amp([code("pt", "993-840")], common, as_of=date(1965, 6, 1)), common, workspace)
    assert mass(p, date(1958, 9, 1), date(1959, 9, 1)) > 0.7


@pytest.mark.parametrize("turned", [False, True])
def test_dates_on_one_part_that_contradict_are_none_of_them_weighed(
    turned: bool, common: Reference, workspace: Workspace
) -> None:
    pair = [code("pt", "993-6340"), stamped("pt", "5-5-58", "hand-date")]
    marks = [*(reversed(pair) if turned else pair), code("ot", "993-6343")]
    verdict = weigh(amp(marks, common), common, looks=0, workspace=workspace)
    assert {p.table for p in verdict.not_weighed} == {1, 2}
    assert all("contradict" in p.found for p in verdict.not_weighed)
    assert [m.weighed for m in verdict.marks] == [False, False, True]
    alone = date_of(amp(marks[2:], common), common, workspace)
    assert np.abs(verdict.build.weeks - alone).max() < 1e-12


def test_two_dates_on_one_part_that_agree_narrow_each_other(
    common: Reference, workspace: Workspace
) -> None:
    marks = [code("pt", "993-340"), stamped("pt", "63", "year-stamp")]
    verdict = weigh(amp(marks, common), common, looks=0, workspace=workspace)
    assert not verdict.not_weighed
    assert verdict.build.decades[1960] > 0.9


@pytest.mark.parametrize("count", [9, 12])
def test_many_different_codes_of_a_class_are_all_weighed_and_said(
    count: int, common: Reference, workspace: Workspace
) -> None:
    # half a year apart each: no two of them can have come in one delivery
    marks = [
        code(f"pot-{i}", f"992-{57 + i // 2}{(1, 27)[i % 2]:02d}") for i in range(1, count + 1)
    ]
    verdict = weigh(amp(marks, common), common, looks=0, workspace=workspace)
    assert all(m.weighed for m in verdict.marks)
    assert any("different codes was weighed in more than one group" in n for n in verdict.notes)
    assert len(verdict.parts) == count


def test_two_classes_of_few_codes_are_not_called_too_many(
    common: Reference, workspace: Workspace
) -> None:
    # wherever they sit and whatever they are called
    parts = [Part("tone", "potentiometer", "chassis"), Part("tone-cap", "capacitor", "chassis")]
    marks = [
        code("tone", "992-6340"),
        stamped("tone-cap", "6338", "date-code"),
        code("pt", "993-6341"),
    ]
    verdict = weigh(amp(marks, common, parts=parts), common, looks=0, workspace=workspace)
    assert not any("in more than one group" in n for n in verdict.notes)


# -- the ends of what is known ---------------------------------------------------------------------


def test_without_any_mark_only_the_era_is_known(common: Reference, workspace: Workspace) -> None:
    verdict = weigh(amp([], common), common, looks=0, workspace=workspace)
    assert verdict.build.weeks.sum() == pytest.approx(1.0, abs=1e-12)
    assert verdict.log_evidence == pytest.approx(0.0, abs=1e-9)
    assert "cannot tell" in verdict.words[0].text.lower()


def test_without_any_pack_it_is_said_that_no_model_was_weighed(
    common: Reference, workspace: Workspace
) -> None:
    verdict = weigh(amp(CHASSIS_OF_1963, common), common, looks=0, workspace=workspace)
    assert verdict.models == ()
    assert any("no pack" in n for n in verdict.notes)


def test_an_amp_recorded_in_1946_was_built_by_then(common: Reference, workspace: Workspace) -> None:
    marks = [code("pt", "993-540"), code("ot", "993-543")]
    verdict = weigh(
        amp(marks, common, as_of=date(1946, 6, 1)), common, looks=0, workspace=workspace
    )
    assert verdict.as_of == "1946-W22"
    assert verdict.build.weeks.size == 857
    assert verdict.build.mode_year in (1945, 1946)
    assert max(verdict.build.years) <= 1946


@pytest.mark.parametrize("as_of", [date(1929, 5, 1), date(1930, 1, 1), date(1931, 1, 1)])
def test_an_as_of_before_there_was_anything_still_gives_a_verdict(
    as_of: date, common: Reference, workspace: Workspace
) -> None:
    verdict = weigh(
        amp([joint("pt", "joint-untouched")], common, as_of=as_of),
        common,
        looks=0,
        workspace=workspace,
    )
    assert verdict.build.weeks.sum() == pytest.approx(1.0, abs=1e-12)


def test_known_years_of_making_count_as_knowledge(common: Reference, workspace: Workspace) -> None:
    marks = [code("pt", "993-340")]
    p = date_of(amp(marks, common, made="1961/1967"), common, workspace)
    assert mass(p, date(1961, 1, 1), date(1967, 12, 31)) > 0.95


# -- what was typed is kept ------------------------------------------------------------------------


def test_a_typed_code_is_found_verbatim_in_every_output(
    brackwater: Reference, workspace: Workspace
) -> None:
    typed = [
        code("pt", "993 - 3?0", "worn"),
        code("ot", "993-99"),
        code("choke", "...[38]43"),
        stamped("chassis", " 5 0364 ", "year-stamp"),
        stamped("chart", "wf", "chart-letters"),
        stamped("label", "U.S. Pat. 2,900,000", "patent-number"),
        code("rt", "993-8103"),
    ]
    verdict = weigh(amp(typed, brackwater), brackwater, looks=0, workspace=workspace)
    assert [m.mark.text for m in verdict.marks] == [m.text for m in typed]
    assert [m["text"] for m in as_json(verdict)["marks"]] == [m.text for m in typed]
    assert [m["n"] for m in as_json(verdict)["marks"]] == list(range(1, 8))
