"""What the engine is held to: every bar, its figure, and whether it is met."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .coverage import LEVELS
from .scenarios import AS_STATED, Scenario
from .summary import Figures

MOST_ECE = {"original": 0.02, "later": 0.02, "period": 0.02, "married": 0.03, "claim": 0.03}
MOST_DOUBTFUL_ECE = 0.04
ENOUGH_DOUBTFUL = 1000
LEAST_SKILL = 0.3
SKILLED = ("original", "later", "period", "married", "claim")
MOST_ERRORS = 3.0  # standard errors of coverage


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar in one world. ``met`` None: can't be judged; ``why``: what is known of the reason."""

    run: str
    what: str
    figure: float
    wanted: str
    met: bool | None
    why: str = ""


def bars(run: str, scenario: Scenario, found: Figures) -> list[Bar]:
    """The bars of one world; ``run`` names it."""
    out = _as_stated(run, found) if scenario.id == AS_STATED else []
    if scenario.floor is not None:
        hit = found.sets["0.95"].hit
        out.append(
            Bar(
                run,
                "95% sets that hold the truth",
                hit,
                f"≥ {scenario.floor:g}",
                hit >= scenario.floor,
            )
        )
    return [*out, *_against_rules(run, found)]


def _as_stated(run: str, found: Figures) -> list[Bar]:
    out = [
        Bar(
            run,
            "ranks of the build week: p of the 99% band",
            found.rank.p_value,
            "inside the band (p ≥ 0.01)",
            found.rank.inside,
        )
    ]
    for level in LEVELS:
        z = found.sets[level].z
        what = f"{float(level):.0%} sets: coverage less stated mass, in standard errors"
        out.append(Bar(run, what, z, "within ±3", abs(z) <= MOST_ERRORS))
    for kind, most in MOST_ECE.items():
        r = found.reliability[kind]
        out.append(_ece(run, f"{kind}: calibration error", r.n, r.ece, r.ece_if_right, most))
    for kind in MOST_ECE:
        r = found.doubtful[kind]
        what = f"{kind}, stated 0.05–0.95: calibration error"
        if r.n < ENOUGH_DOUBTFUL:
            why = f"only {r.n} of them; {ENOUGH_DOUBTFUL} are needed"
            out.append(Bar(run, what, r.ece, f"≤ {MOST_DOUBTFUL_ECE:g}", None, why))
        else:
            out.append(_ece(run, what, r.n, r.ece, r.ece_if_right, MOST_DOUBTFUL_ECE))
    for kind in SKILLED:
        r = found.reliability[kind]
        met = None if not r.n or r.skill != r.skill else r.skill >= LEAST_SKILL
        why = "nothing to judge by" if met is None else ""
        if met is False:
            why = f"{r.skill_if_right:.2f} is all that these dossiers tell to the best of judges"
        out.append(Bar(run, f"{kind}: Brier skill", r.skill, f"≥ {LEAST_SKILL:g}", met, why))
    return out


def _ece(run: str, what: str, n: int, ece: float, by_chance: float, most: float) -> Bar:
    wanted = f"≤ {most:g}"
    if not n:
        return Bar(run, what, ece, wanted, None, "nothing was stated")
    if ece > most and by_chance > most:
        return Bar(
            run, what, ece, wanted, None, f"too few: {by_chance:.3f} is to be expected by chance"
        )
    return Bar(run, what, ece, wanted, ece <= most)


def _against_rules(run: str, found: Figures) -> list[Bar]:
    titles = {"latest": "the latest code decides", "median": "the median of the codes"}
    out = [
        Bar(
            run,
            f"log score above '{titles[rule]}'",
            figure.gain.mean,
            "> 0",
            figure.gain.mean > 0,
        )
        for rule, figure in found.rules.items()
    ]
    better = max(found.rules.values(), key=lambda rule: rule.names)
    ahead = found.names - better.names
    out.append(
        Bar(run, "names the year more often than the better rule, by", ahead, "≥ 0", ahead >= 0)
    )
    return out


def missed(several: Sequence[Bar]) -> Mapping[str, list[Bar]]:
    """The bars not met, by world."""
    out: dict[str, list[Bar]] = {}
    for bar in several:
        if bar.met is False:
            out.setdefault(bar.run, []).append(bar)
    return out
