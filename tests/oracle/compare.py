"""What the engine says against what the slow twin says, number by number."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from endbell.chronology import Verdict, weigh

from . import time
from .brute import Brute, edtf, highest_density
from .product import dossier, reference

World = dict[str, Any]
Pair = tuple[str, Any, Any]
TOLERANCE = 1e-8


def engine(world: World) -> Verdict:
    return weigh(dossier(world), reference(world), world["assume"], models=world["rivals"])


def pairs(world: World, verdict: Verdict, brute: Brute, influence: bool = False) -> Iterator[Pair]:
    """(what, the engine's number, the twin's number)."""
    scale = max(1.0, abs(brute.log_evidence()))
    yield "log evidence", verdict.log_evidence / scale, brute.log_evidence() / scale
    weeks = brute.weeks()
    yield "weeks of the grid", len(verdict.build.weeks), len(weeks)
    for w in np.flatnonzero(np.abs(verdict.build.weeks - weeks) > TOLERANCE):
        yield f"p({time.label(int(w))})", verdict.build.weeks[w], weeks[w]
    yield (
        "mode",
        verdict.build.mode,
        time.label(max(range(len(weeks)), key=lambda w: (float(f"{weeks[w]:.11e}"), -w))),
    )
    for year, p in verdict.build.all_years.items() if hasattr(verdict.build, "all_years") else ():
        yield f"year {year}", p, sum(weeks[w] for w in range(len(weeks)) if time.year_of(w) == year)
    yield from _sets("build", verdict.build.sets, weeks)
    yield "edtf", verdict.build.edtf, edtf(highest_density(weeks, 0.95))
    said = {m.model: m.p for m in verdict.models}
    for model, p in brute.models().items():
        yield f"model {model}", said.get(model), p
    for part in verdict.parts:
        yield f"{part.part} original", part.original, brute.original(part.part)
        period = brute.origin(part.part, "period")
        # In the married branch a part is not original to this amp: that mass counts as later.
        later = 1 - brute.original(part.part) - period
        yield f"{part.part} later", part.later_replacement, later
        yield f"{part.part} period", part.period_replacement, period
    yield from _deliveries(verdict, brute)
    for a in verdict.assemblies:
        if a.assembly != "chassis":
            yield f"{a.assembly} married", a.married, brute.married(a.assembly)
            if a.married > 1e-6:
                donor = brute.donor_weeks(a.assembly)
                for year, p in a.years.items():
                    mass = sum(donor[w] for w in range(len(donor)) if time.year_of(w) == year)
                    yield f"{a.assembly} of {year}", p, mass
    yield from _claim(verdict, brute)
    if influence:
        weighed = {m["n"] for m in brute.world["marks"]}
        for m in (m for m in verdict.marks if m.mark.n in weighed):
            yield f"influence of mark {m.mark.n}", m.influence_bits, brute.influence(m.mark.n)
            mine = brute.conflict(m.mark.n)
            if mine is not None:
                yield f"conflict of mark {m.mark.n}", m.conflict, mine
    yield "not weighed", len(verdict.not_weighed), brute.not_weighed


def _sets(what: str, said: Any, weeks: np.ndarray) -> Iterator[Pair]:
    for name, runs in said.items():
        mine = highest_density(weeks, float(name))
        text = [(time.label(a), time.label(b)) for a, b, _ in mine]
        yield f"{what} {name} runs", [(a, b) for a, b, _ in runs], text
        if len(mine) == len(runs):
            for (_, _, p), (_, _, q) in zip(runs, mine, strict=True):
                yield f"{what} {name} mass", p, q


def _deliveries(verdict: Verdict, brute: Brute) -> Iterator[Pair]:
    mine = {frozenset(parts): (t, o) for parts, t, o in brute.deliveries()}
    said = {frozenset(d.parts): (d.together, d.all_original) for d in verdict.deliveries}
    yield "deliveries", sorted(map(sorted, said)), sorted(map(sorted, mine))
    for parts in mine.keys() & said.keys():
        yield f"together {sorted(parts)}", said[parts][0], mine[parts][0]
        yield f"all original {sorted(parts)}", said[parts][1], mine[parts][1]


def _claim(verdict: Verdict, brute: Brute) -> Iterator[Pair]:
    joint, clauses = brute.claim()
    if verdict.claim is None:
        yield "clauses", [], sorted(clauses)
        return
    yield "claim", verdict.claim.p, joint
    said = {c.clause: c.p for c in verdict.claim.clauses if c.p is not None}
    clauses = {c: p for c, p in clauses.items() if p is not None}
    yield "clauses", sorted(said), sorted(clauses)
    for clause in said.keys() & clauses.keys():
        yield f"clause {clause}", said[clause], clauses[clause]


def differ(a: Any, b: Any) -> bool:
    if isinstance(a, (int, float)) and isinstance(b, (int, float)):
        return not abs(float(a) - float(b)) <= TOLERANCE
    return a != b


def disagreements(world: World, influence: bool = False) -> list[Pair]:
    return [
        (what, a, b)
        for what, a, b in pairs(world, engine(world), Brute(world), influence)
        if differ(a, b)
    ]
