"""From the records of one world to its figures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .coverage import LEVELS, Coverage, coverage
from .ranks import RankTest, judge_ranks
from .record import KINDS, Records
from .reliability import Reliability, doubtful, excess, reliability
from .rules import FIRST_YEAR
from .scores import Gain, RuleScore, gain, told

Array = NDArray[np.float64]

RULES = ("latest", "median")


@dataclass(frozen=True, eq=False)
class RuleFigures:
    """A plain rule beside the engine, on the same dossiers.

    ``score``: mean ln P(true year); ``gain``: by how much the engine's is above it; ``told``: the
    same against the rule that knows its errors in this world; ``names``: share of dossiers whose
    year it names; ``names_gain``: by how much the engine's likeliest year names more.
    """

    score: float
    gain: Gain
    told: Gain
    names: float
    names_gain: Gain


@dataclass(frozen=True, eq=False)
class Figures:
    """All that is said of one world.

    ``sets``, ``widths`` (mean weeks) by level; ``reliability``, ``doubtful`` by kind of statement;
    ``decades``: whether more amps came from a decade than stated, in standard errors;
    ``week_score``, ``year_score``: mean ln P of the true one; ``names``: share of dossiers whose
    year is the likeliest.
    """

    n: int
    failed: int
    marks: float
    left_out: float
    codes: float
    sets: dict[str, Coverage]
    widths: dict[str, float]
    rank: RankTest
    reliability: dict[str, Reliability]
    doubtful: dict[str, Reliability]
    decades: dict[int, float]
    week_score: float
    year_score: float
    names: float
    rules: dict[str, RuleFigures]


def figures(records: Records, stated: Records, made: Array) -> Figures:
    """Everything about one world.

    ``stated``: the records of the world as stated, from whose errors the plain rules learn (they
    know no more of this world than the engine does); ``made``: amps by year from 1930.  In the
    world as stated itself each half of the dossiers is scored with the errors of the other half.
    """
    named = (records.mode_year == records.year).astype(np.float64)
    return Figures(
        n=records.n,
        failed=records.failed.size,
        marks=float(records.marks.mean()),
        left_out=float(records.left_out.mean()),
        codes=float(records.codes.mean()),
        sets={
            level: coverage(records.hit[:, k], records.mass[:, k]) for k, level in enumerate(LEVELS)
        },
        widths={level: float(records.width[:, k].mean()) for k, level in enumerate(LEVELS)},
        rank=judge_ranks(records.rank),
        reliability={kind: reliability(*records.pairs(kind)) for kind in KINDS},
        doubtful={kind: _doubtful(records, kind) for kind in KINDS},
        decades=_decades(records),
        week_score=float(records.log_week.mean()),
        year_score=float(records.log_year.mean()),
        names=float(named.mean()),
        rules={
            rule: _rule(records, getattr(records, rule), stated, getattr(stated, rule), made, named)
            for rule in RULES
        },
    )


def _doubtful(records: Records, kind: str) -> Reliability:
    stated, true, owner = records.pairs(kind)
    chosen = doubtful(stated)
    return reliability(stated[chosen], true[chosen], owner[chosen])


def _decades(records: Records) -> dict[int, float]:
    """One statement a dossier and decade, in order: all dossiers of a run have the same ones."""
    stated, true, _ = records.pairs("decade")
    table, so = stated.reshape(records.n, -1), true.reshape(records.n, -1)
    first = FIRST_YEAR // 10 * 10
    return {first + 10 * k: excess(table[:, k], so[:, k]) for k in range(table.shape[1])}


def _rule(
    records: Records,
    named: NDArray[np.int64],
    stated: Records,
    stated_named: NDArray[np.int64],
    made: Array,
    engine_names: Array,
) -> RuleFigures:
    knowing = told(named, records.year, made)
    scores = (
        knowing
        if records is stated
        else RuleScore.learned(stated_named, stated.year, made).log_scores(named, records.year)
    )
    names = (named == records.year).astype(np.float64)
    return RuleFigures(
        float(scores.mean()),
        gain(records.log_year, scores),
        gain(records.log_year, knowing),
        float(names.mean()),
        gain(engine_names, names),
    )
