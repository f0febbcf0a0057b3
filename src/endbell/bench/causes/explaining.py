"""Why a fault is likely or not: which lines speak for it and which against, in plain words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..lines import Judgement, Line
from .evidence import Evidence
from .network import Array
from .posterior import Belief
from .tables import symptoms

_LEAST = 1.15
"""A line that changes the odds by less is not worth a sentence."""


def weights(belief: Belief) -> dict[int, Array]:
    """By symptom seen: (F,) by how much it multiplied the odds of each fault, all else as found.

    Exact: the posterior with the symptom against the posterior without it.
    """
    own = _odds(belief.marginals())
    return {s: own / _odds(belief.without(s)) for s in belief.seen}


def _odds(p: Array) -> Array:
    held = np.clip(p, 1e-12, 1.0 - 1e-12)
    return held / (1.0 - held)


def sides(
    fault: int, told: dict[int, Array], found: Evidence
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Sentences for and against a fault, strongest first, and the places that speak for it."""
    ranked = sorted(told, key=lambda s: -abs(float(np.log(told[s][fault]))))
    speaks_for: list[str] = []
    against: list[str] = []
    at: list[str] = []
    for s in ranked:
        times = float(told[s][fault])
        if times >= _LEAST:
            speaks_for.append(f"{_found(s, found)} speaks {_strength(times)} for it.")
            if found.seen[s].off:
                at += [line.at for line in found.lines[s] if line.at]
        elif times <= 1.0 / _LEAST:
            against.append(f"{_found(s, found)} speaks {_strength(1 / times)} against it.")
    return tuple(speaks_for), tuple(against), tuple(dict.fromkeys(at))


def _strength(times: float) -> str:
    if times >= 20:
        return "very strongly"
    if times >= 5:
        return "strongly"
    return "clearly" if times >= 2 else "a little"


def _found(symptom: int, found: Evidence) -> str:
    """The lines behind a symptom: 'Screen grid at V4, low,' or 'Ripple on a rail, within, …'."""
    lines = found.lines[symptom]
    if found.seen[symptom].off:
        return f"{named(lines)}, {ways(lines)},"
    others = symptoms()[symptom]
    way = " or ".join(sorted(j.value for j in others.judgements))
    all_within = all(line.judgement is Judgement.WITHIN for line in lines)
    state = "within" if all_within else f"not {way}"
    seen = found.seen[symptom]
    part = "" if seen.read >= seen.places else f" ({seen.read} of {seen.places} places)"
    return f"{named(lines)}, {state}{part},"


def named(lines: Sequence[Line]) -> str:
    """Titles and the first places of lines."""
    titles = " and ".join(dict.fromkeys(line.title for line in lines))
    places = list(dict.fromkeys(line.at for line in lines if line.at))
    if not places:
        return titles
    told = ", ".join(places[:3]) + (" …" if len(places) > 3 else "")
    return f"{titles} at {told}"


def ways(lines: Sequence[Line]) -> str:
    """In which way lines are off."""
    return " and ".join(dict.fromkeys(line.judgement.value for line in lines))
