"""How surprising a mark is, against weighing everything that could have stood in its place."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from endbell.chronology import weigh
from endbell.chronology.fit import mid_p
from endbell.chronology.weighing import posterior
from endbell.chronology.workspace import Workspace
from endbell.dossier import Mark
from endbell.reference import Reference

from .amp import amp, code, joint, looks, paper, stamped

AS_OF = date(1966, 6, 1)


def evidence(marks: list[Mark], reference: Reference, workspace: Workspace) -> float:
    found = posterior(amp(marks, reference, as_of=AS_OF), reference, workspace=workspace)
    return 0.0 if found.problems else float(np.exp(found.joint.log_evidence))


def told(marks: list[Mark], n: int, reference: Reference, workspace: Workspace) -> float:
    verdict = weigh(amp(marks, reference, as_of=AS_OF), reference, looks=0, workspace=workspace)
    conflict = verdict.marks[n].conflict
    assert conflict is not None
    return conflict


PAIR = [code("pot-1", "992-347"), code("pot-2", "992-347")]
TRANSFORMERS = [code("pt", "993-340"), code("ot", "993-343")]


@pytest.mark.parametrize(
    ("others", "part", "seen"),
    [
        (PAIR, "pot-3", ("347", "345", "340", "420", "020")),
        (TRANSFORMERS, "pot-1", ("338", "020", "420")),
        (TRANSFORMERS, "sp-1", ("447",)),
    ],
)
def test_a_codes_surprise_is_over_every_code_that_could_be_read(
    others: list[Mark], part: str, seen: tuple[str, ...], common: Reference, workspace: Workspace
) -> None:
    codes = [f"{y}{w:02d}" for y in range(10) for w in range(1, 54)]
    mass = np.array([evidence([*others, code(part, f"992-{c}")], common, workspace) for c in codes])
    for c in seen:
        direct = mid_p(mass, float(mass[codes.index(c)]))
        conflict = told([*others, code(part, f"992-{c}")], len(others), common, workspace)
        assert conflict == pytest.approx(direct, abs=1e-8), c


def test_a_digit_that_may_be_two_is_as_surprising_as_both_together(
    common: Reference, workspace: Workspace
) -> None:
    weeks = range(1, 54)
    mass = {
        (y, w): evidence([*TRANSFORMERS, code("pot-1", f"992-{y}{w:02d}")], common, workspace)
        for y in range(10)
        for w in weeks
    }
    named = np.array([mass[3, w] + mass[8, w] for w in weeks])
    others = np.array([sum(mass[y, w] for y in range(10) if y not in (3, 8)) for w in weeks])
    direct = mid_p(np.concatenate([named, others]), float(named[36 - 1]))
    marks = [*TRANSFORMERS, code("pot-1", "992-[38]36")]
    assert told(marks, 2, common, workspace) == pytest.approx(direct, abs=1e-8)


@pytest.mark.parametrize("seen", ["grey-tweed", "oxblood-cloth", "black-pebble", "absent"])
def test_a_features_surprise_is_over_its_values(
    seen: str, brackwater: Reference, workspace: Workspace
) -> None:
    values = ["oxblood-cloth", "grey-tweed", "black-pebble", "absent"]
    mass = np.array(
        [
            evidence(
                [*TRANSFORMERS, looks("covering", "covering-colour", v)], brackwater, workspace
            )
            for v in values
        ]
    )
    direct = mid_p(mass, float(mass[values.index(seen)]))
    marks = [*TRANSFORMERS, looks("covering", "covering-colour", seen)]
    assert told(marks, 2, brackwater, workspace) == pytest.approx(direct, abs=1e-8)


@pytest.mark.parametrize("seen", ["63", "64", "58"])
def test_a_year_stamps_surprise_is_over_the_years(
    seen: str, common: Reference, workspace: Workspace
) -> None:
    years = [f"{y:02d}" for y in range(30, 67)]
    mass = np.array(
        [
            evidence([*TRANSFORMERS, stamped("chassis", y, "year-stamp")], common, workspace)
            for y in years
        ]
    )
    direct = mid_p(mass, float(mass[years.index(seen)]))
    marks = [*TRANSFORMERS, stamped("chassis", seen, "year-stamp")]
    assert told(marks, 2, common, workspace) == pytest.approx(direct, abs=1e-8)


@pytest.mark.parametrize(
    ("mark", "most"),
    [
        (paper("1965-02-14"), 1.0),
        (paper("1958-02-14", "cab"), 1.0),
        (joint("pt", "joint-new-solder"), 0.35),
        (joint("pt", "joint-untouched"), 0.8),
        (joint("cab", "extra-holes"), 0.3),
    ],
    ids=["paper", "early paper", "new solder", "untouched joint", "holes in the cabinet"],
)
def test_a_one_sided_marks_surprise_is_how_well_it_fits_of_the_best_it_could(
    mark: Mark, most: float, common: Reference, workspace: Workspace
) -> None:
    marks = [*TRANSFORMERS, stamped("cab", "12-1-64", "hand-date")]
    with_it = evidence([*marks, mark], common, workspace)
    without = evidence(marks, common, workspace)
    expected = with_it / without / most
    assert told([*marks, mark], 3, common, workspace) == pytest.approx(expected, abs=1e-9)


def test_surprise_is_the_share_of_what_is_less_likely_and_half_of_what_is_as_likely() -> None:
    mass = np.array([0.1, 0.2, 0.2, 0.5])
    assert mid_p(mass, 0.5) == pytest.approx(0.75)
    assert mid_p(mass, 0.2) == pytest.approx(0.3)
    assert mid_p(mass, 0.1) == pytest.approx(0.05)
    assert mid_p(mass * 7, 0.7) == pytest.approx(0.05)
