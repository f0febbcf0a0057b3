"""Whether the verdict stands when the assumptions are halved or doubled, one at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .evidence import build
from .factors import PartEvidence
from .joint import Joint
from .origins import words_of
from .sets import highest_density, year_masses
from .setting import Setting
from .time import IntArray
from .verdict import BuildDate, PartVerdict, Unstable
from .weeks import week_label

FACTORS = (0.5, 2.0)
SUBJECTS = ("lags", "replacement odds", "marriage odds", "stock-age spread")


@dataclass(frozen=True, slots=True)
class Summary:
    """What stability is judged by."""

    build: BuildDate
    parts: tuple[PartVerdict, ...]


def changed(assume: Mapping[str, float], subject: str, factor: float) -> dict[str, float]:
    """The assumptions with one subject scaled: medians and spreads by factor, probabilities by
    odds.
    """
    out = dict(assume)
    for name, value in assume.items():
        if (subject == "lags" and name.startswith("lag.") and name.endswith(".median_weeks")) or (
            subject == "stock-age spread" and name == "stock_age.sigma"
        ):
            out[name] = value * factor
        elif (
            (
                subject == "replacement odds"
                and name.startswith("replaced.")
                and name.endswith(".probability")
            )
            or (subject == "marriage odds" and name.startswith("married."))
        ) and 0 < value < 1:
            odds = value / (1 - value) * factor
            out[name] = odds / (1 + odds)
    return out


def stability(
    base: Summary, weeks: IntArray, evidence: Sequence[PartEvidence], setting: Setting
) -> tuple[Unstable, ...]:
    """Everything that changes more than it may, in the order of subjects and factors.

    ``weeks``: those that carry weight in the base verdict, down to 5e-13 of the whole: far more
    than
    half or double an assumption can lift to anything that is judged here.
    """
    out: list[Unstable] = []
    married = any(setting.married(e.part.assembly) > 0 for e in evidence if e.read)
    for subject in SUBJECTS:
        if subject == "marriage odds" and not married:
            continue
        for factor in FACTORS:
            other = replace(setting, assume=changed(setting.assume, subject, factor))
            joint = Joint(build(evidence, other), other, only=weeks)
            out.extend(
                Unstable(subject, factor, what) for what in _differences(base, joint, setting)
            )
    return tuple(out)


def _differences(base: Summary, joint: Joint, setting: Setting) -> list[str]:
    out: list[str] = []
    words = words_of(joint)
    out.extend(
        f"{p.part}: {p.word} becomes {words[p.part]}" for p in base.parts if words[p.part] != p.word
    )
    least = setting.assume["stable.year_mass"]
    old, new = _years(base.build.weeks, setting, least), _years(joint.by_week, setting, least)
    out.extend(f"build: {y} enters the 95% set" for y in sorted(new - old))
    out.extend(f"build: {y} leaves the 95% set" for y in sorted(old - new))
    a, b = highest_density(base.build.weeks, 0.95), highest_density(joint.by_week, 0.95)
    for name, x, y in (("start", a[0], b[0]), ("end", a[-1], b[-1])):
        if abs(int(x) - int(y)) > setting.assume["stable.end_weeks"]:
            out.append(
                f"build: the {name} of the 95% set moves from {week_label(int(x))} "
                f"to {week_label(int(y))}"
            )
    return out


def _years(p: np.ndarray, setting: Setting, least: float) -> set[int]:
    """Years with more than ``least`` that have a week in the 95% set."""
    mass = year_masses(p, setting.grid)
    held = set(setting.grid.years[highest_density(p, 0.95)].tolist())
    return {y for y in held if mass[y] > least}
