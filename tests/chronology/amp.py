"""Short ways to write an amp down: marks, dossiers, and what is asked of their verdicts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from endbell.chronology import Verdict
from endbell.chronology.verdict import PartVerdict
from endbell.chronology.weeks import week_of
from endbell.dossier import Claim, Dossier, Mark, Part, Repair
from endbell.dossier.parts import known_part
from endbell.marks import edtf_bounds
from endbell.reference import Reference

SHORT = date(1975, 6, 1)
"""An ``as_of`` that keeps the sums short where the later history of the amp doesn't matter."""

Array = NDArray[np.float64]


def code(part: str, text: str, legibility: str = "clear") -> Mark:
    """A source-and-date code: source number, year, week."""
    return Mark(0, part, "source-date-code", text, legibility)


def stamped(part: str, text: str, kind: str, legibility: str = "clear") -> Mark:
    """Any mark that is a text."""
    return Mark(0, part, kind, text, legibility)


def looks(part: str, feature: str, value: str) -> Mark:
    """A feature seen."""
    return Mark(0, part, "feature", feature=feature, value=value)


def joint(part: str, word: str) -> Mark:
    """A condition word, such as the state of the solder joints."""
    return Mark(0, part, "condition", word)


def paper(day: str, part: str = "paper") -> Mark:
    """A paper that shows the amp on a day."""
    return Mark(0, part, "document", "receipt", date=day)


def amp(
    marks: Sequence[Mark],
    reference: Reference,
    *,
    as_of: date = SHORT,
    claim: Claim | None = None,
    made: str | None = None,
    repairs: Sequence[Repair] = (),
    parts: Sequence[Part] = (),
) -> Dossier:
    """A dossier; marks are numbered in the order given, parts found by their usual ids."""
    held = {p.id: p for p in parts}
    for name in [*(m.part for m in marks), *(r.part for r in repairs)]:
        if name not in held:
            found = known_part(name, reference)
            assert found is not None, name
            held[name] = found
    return Dossier(
        id="test",
        as_of=as_of,
        file="test.toml",
        made=None if made is None else edtf_bounds(made),
        claim=claim or Claim(),
        parts=tuple(held.values()),
        repairs=tuple(repairs),
        marks=tuple(replace(m, n=n) for n, m in enumerate(marks, 1)),
    )


def repair(part: str, done: str, *, replaced: bool = True) -> Repair:
    """Work that is known of."""
    first, last = edtf_bounds(done)
    return Repair(part, done, replaced, first=first, last=last)


def claim(
    *,
    built: str | None = None,
    model: str | None = None,
    maker: str | None = None,
    original: Sequence[str] = (),
    excluded: Sequence[str] = (),
) -> Claim:
    """What the seller says."""
    first, last = (None, None) if built is None else edtf_bounds(built)
    return Claim(maker, model, built, first, last, tuple(original), tuple(excluded), "seller")


def mass(p: Array, first: date | None, last: date | None) -> float:
    """P(built between two days, both included)."""
    a = 0 if first is None else max(week_of(first), 0)
    b = p.size if last is None else week_of(last) + 1
    return float(p[a:b].sum())


def width(p: Array, level: float = 0.95) -> int:
    """How many weeks the smallest set of a mass has."""
    return int(np.searchsorted(np.cumsum(np.sort(p)[::-1]), level) + 1)


def quantile(p: Array, q: float) -> int:
    """The first week by which a share of the mass is reached."""
    return int(np.searchsorted(np.cumsum(p), q))


def part_of(verdict: Verdict, part: str) -> PartVerdict:
    """What is said of one part."""
    return next(p for p in verdict.parts if p.part == part)
