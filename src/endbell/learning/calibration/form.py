"""The figures as plain values: what ``endbell calibrate --json`` prints.

The form is ``endbell-calibration/1``.  Page and pictures are made from it alone, so that they can
be made again from a stored one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from ... import __version__
from ...reference.types import PackStamp
from .bars import Bar
from .drawing import Job
from .ranks import RankTest
from .record import KINDS
from .reliability import Reliability
from .summary import Figures, RuleFigures

FORMAT = "endbell-calibration/1"
DIGITS = 9
CURVE_POINTS = 250


@dataclass(frozen=True, slots=True)
class Mended:
    """What a changed assumption of the engine made of a world it fell short in.

    ``before``, ``after``: on the same dossiers.
    """

    run: str
    words: str
    before: Figures
    after: Figures


@dataclass(frozen=True, slots=True)
class Asked:
    """What the figures were asked for: the way to have them again."""

    n: int
    seed: int
    as_of: date
    command: str


def as_form(
    asked: Asked,
    stamps: Mapping[str, Sequence[PackStamp]],
    found: Mapping[Job, Figures],
    bars: Sequence[Bar],
    mended: Sequence[Mended],
) -> dict[str, Any]:
    """One JSON object. ``stamps``: the packs in force by name of the set ('none', 'brackwater')."""
    named = {job.name: figures for job, figures in found.items()}
    return rounded(
        {
            "format": FORMAT,
            "endbell": __version__,
            "command": asked.command,
            "n": asked.n,
            "seed": asked.seed,
            "as_of": asked.as_of.isoformat(),
            "packs": {
                name: {s.id: {"version": s.version, "sha256": s.sha256} for s in several}
                for name, several in stamps.items()
            },
            "coverage": {
                run: {level: c.hit for level, c in f.sets.items()} for run, f in named.items()
            },
            "rank_inside_99": {run: f.rank.inside for run, f in named.items()},
            "ece": {
                run: {kind: f.reliability[kind].ece for kind in KINDS} for run, f in named.items()
            },
            "log_score": {
                run: {
                    "engine": f.year_score,
                    **{rule: figure.score for rule, figure in f.rules.items()},
                }
                for run, f in named.items()
            },
            "runs": {job.name: _run(job, figures) for job, figures in found.items()},
            "bars": [_bar(bar) for bar in bars],
            "mends": [
                {
                    "run": m.run,
                    "words": m.words,
                    "n": m.after.n,
                    "coverage": [f.sets["0.95"].hit for f in (m.before, m.after)],
                    "log_score": [f.year_score for f in (m.before, m.after)],
                    "names_year": [f.names for f in (m.before, m.after)],
                }
                for m in mended
            ],
        }
    )


def _run(job: Job, f: Figures) -> dict[str, Any]:
    return {
        "packs": list(job.packs),
        "scenario": job.scenario,
        "title": job.world.title,
        "words": job.world.words,
        "n": f.n,
        "failed": f.failed,
        "marks": f.marks,
        "left_out": f.left_out,
        "codes": f.codes,
        "sets": {
            level: {
                "hit": c.hit,
                "stated": c.stated,
                "se": c.se,
                "z": c.z,
                "weeks": f.widths[level],
            }
            for level, c in f.sets.items()
        },
        "rank": _rank(f.rank),
        "reliability": {kind: _reliability(r, curve=True) for kind, r in f.reliability.items()},
        "doubtful": {kind: _reliability(r) for kind, r in f.doubtful.items()},
        "decades": f.decades,
        "scores": {
            "week": f.week_score,
            "year": f.year_score,
            "names_year": f.names,
            "rules": {rule: _rule(figure) for rule, figure in f.rules.items()},
        },
    }


def _rank(test: RankTest) -> dict[str, Any]:
    band = test.band
    step = -(-band.z.size // CURVE_POINTS) or 1
    return {
        "inside": test.inside,
        "p_value": test.p_value,
        "level": band.level,
        "gamma": band.gamma,
        "held": band.held,
        "curve": {
            "z": band.z[::step].tolist(),
            "difference": test.difference[::step].tolist(),
            "lower": (band.lower / band.n - band.z)[::step].tolist(),
            "upper": (band.upper / band.n - band.z)[::step].tolist(),
        },
    }


def _reliability(r: Reliability, *, curve: bool = False) -> dict[str, Any]:
    out: dict[str, Any] = {
        "n": r.n,
        "base_rate": r.base_rate,
        "ece": r.ece,
        "ece_if_right": r.ece_if_right,
        "brier": r.brier,
        "skill": r.skill,
        "skill_if_right": r.skill_if_right,
        "z": r.z,
    }
    if curve:
        out["curve"] = [
            {"low": b.low, "high": b.high, "n": b.n, "stated": b.stated, "true": b.true}
            for b in r.curve
        ]
    return out


def _rule(figure: RuleFigures) -> dict[str, Any]:
    return {
        "log_score": figure.score,
        "gain": figure.gain.mean,
        "gain_se": figure.gain.se,
        "told_gain": figure.told.mean,
        "told_gain_se": figure.told.se,
        "names_year": figure.names,
        "names_gain": figure.names_gain.mean,
        "names_gain_se": figure.names_gain.se,
    }


def _bar(bar: Bar) -> dict[str, Any]:
    return {
        "run": bar.run,
        "what": bar.what,
        "figure": bar.figure,
        "wanted": bar.wanted,
        "met": bar.met,
        "why": bar.why,
    }


def rounded(value: Any) -> Any:
    """Nine significant digits; what is no number becomes null.

    >>> rounded({"a": 1 / 3, "b": float("nan"), "c": [True, 2]})
    {'a': 0.333333333, 'b': None, 'c': [True, 2]}
    """
    if isinstance(value, Mapping):
        return {str(key): rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [rounded(item) for item in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}") if np.isfinite(value) else None
    return value
