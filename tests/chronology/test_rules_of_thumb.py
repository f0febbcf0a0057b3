"""What every vetter knows, on clean invented cases (common practice, no source)."""

from __future__ import annotations

from datetime import date

import pytest

from endbell.chronology import weigh
from endbell.chronology.workspace import Workspace
from endbell.dossier import Mark
from endbell.reference import Reference

from .amp import Array, amp, code, looks, mass, part_of, quantile, stamped
from .asking import date_of

AGREEING = (
    code("pt", "993-6340"),
    code("ot", "993-6343"),
    code("pot-1", "992-6338"),
    code("pot-2", "992-6338"),
)


def test_a_code_is_the_earliest_the_amp_can_be(common: Reference, workspace: Workspace) -> None:
    p = date_of(amp(AGREEING, common), common, workspace)
    week_43 = date(1963, 10, 21)
    # a mis-stamped part or one that was swapped leaves a little before it
    assert mass(p, None, date(1963, 10, 13)) < 0.02
    assert mass(p, week_43, None) > 0.95


def test_the_build_is_usually_within_months_of_the_latest_code(
    common: Reference, workspace: Workspace
) -> None:
    p = date_of(amp(AGREEING, common), common, workspace)
    assert mass(p, date(1963, 10, 21), date(1964, 4, 30)) > 0.95


def test_codes_that_span_months_are_nothing_odd(common: Reference, workspace: Workspace) -> None:
    spread = (code("pt", "993-6334"), code("ot", "993-6343"), code("pot-1", "992-6325"))
    verdict = weigh(amp(spread, common), common, looks=0, workspace=workspace)
    assert {p.word for p in verdict.parts} <= {"original", "probably original"}
    assert not verdict.conflicts
    assert all(m.conflict is not None and m.conflict > 0.1 for m in verdict.marks)


def test_a_code_three_years_older_than_the_others_is_old_stock_or_swapped(
    common: Reference, workspace: Workspace
) -> None:
    verdict = weigh(
        amp((*AGREEING, code("choke", "993-6038")), common), common, looks=0, workspace=workspace
    )
    assert part_of(verdict, "choke").original < part_of(verdict, "pt").original
    odd = verdict.marks[-1]
    assert odd.conflict is not None and odd.conflict < 0.05
    assert verdict.build.mode_year in (1963, 1964)


def test_where_codes_straddle_a_year_end_the_later_year_is_the_year_of_build(
    common: Reference, workspace: Workspace
) -> None:
    straddling = (code("pt", "993-6350"), code("ot", "993-6401"), code("pot-1", "992-6347"))
    verdict = weigh(amp(straddling, common), common, looks=0, workspace=workspace)
    assert verdict.build.mode_year == 1964
    assert verdict.build.years[1964] > 0.95


def test_a_single_year_digit_cannot_tell_decades_apart(
    common: Reference, workspace: Workspace
) -> None:
    worn = (code("pt", "993-340"), code("ot", "993-343"), code("pot-1", "992-338"))
    verdict = weigh(amp(worn, common), common, looks=0, workspace=workspace)
    decades = verdict.build.decades
    assert min(decades[1950], decades[1960]) > 0.1
    assert "cannot tell" in verdict.words[0].text.lower()


@pytest.mark.parametrize("count", range(1, 7))
def test_more_one_digit_codes_do_not_settle_the_decade(
    count: int, common: Reference, workspace: Workspace
) -> None:
    pots = [code(f"pot-{i}", "992-338") for i in range(1, count + 1)]
    p = date_of(amp([*pots, code("pt", "993-340")], common), common, workspace)
    fifties = mass(p, date(1953, 6, 1), date(1955, 1, 1))
    sixties = mass(p, date(1963, 6, 1), date(1965, 1, 1))
    # the era prior alone: about twice as many valve amps were made then
    assert 1.0 < sixties / fifties < 5.0


@pytest.mark.parametrize(
    "settling",
    [
        code("pot-1", "992-6338"),
        stamped("chart", "VZ", "chart-letters"),
        looks("covering", "covering-colour", "grey-tweed"),
        looks("cab", "cabinet-joint", "finger-joint"),
    ],
    ids=["two-digit year", "chart letters", "covering", "cabinet joint"],
)
def test_what_does_tell_decades_apart(
    settling: Mark, brackwater: Reference, workspace: Workspace
) -> None:
    ambiguous = [code("pt", "993-340"), code("ot", "993-343")]

    def sixties(p: Array) -> float:
        return mass(p, date(1963, 6, 1), date(1965, 1, 1))

    def weighed(marks: list[Mark]) -> float:
        dossier = amp(marks, brackwater, as_of=date(1980, 1, 1), made="1950/1979")
        return sixties(date_of(dossier, brackwater, workspace))

    before, after = weighed(ambiguous), weighed([*ambiguous, settling])
    if settling.feature == "cabinet-joint":  # both eras have it: it says next to nothing
        assert abs(after - before) < 0.1
    else:
        assert before < 0.8 and after > 0.95


def test_one_much_later_loudspeaker_is_a_replacement_and_does_not_move_the_date(
    common: Reference, workspace: Workspace
) -> None:
    without = date_of(amp(AGREEING, common), common, workspace)
    verdict = weigh(
        amp((*AGREEING, code("sp-1", "995-7123")), common), common, looks=0, workspace=workspace
    )
    assert part_of(verdict, "sp-1").word == "replaced"
    assert abs(quantile(without, 0.5) - quantile(verdict.build.weeks, 0.5)) <= 1
    assert abs(quantile(without, 0.025) - quantile(verdict.build.weeks, 0.025)) <= 2
    assert verdict.build.mode_year == 1963 or verdict.build.mode_year == 1964
    assert all(p.word == "original" for p in verdict.parts if p.part != "sp-1")


def test_a_loudspeaker_of_the_right_months_is_no_replacement(
    common: Reference, workspace: Workspace
) -> None:
    verdict = weigh(
        amp((*AGREEING, code("sp-1", "995-6343")), common), common, looks=0, workspace=workspace
    )
    assert part_of(verdict, "sp-1").word == "original"
