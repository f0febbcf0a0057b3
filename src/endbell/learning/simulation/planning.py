"""Designs: which parts and marks a dossier has, and which papers and tickets lie by it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import accumulate

import numpy as np

from ...reference.types import Check, ExpectedPart
from .deliveries import LATER, ORIGINAL, PERIOD
from .design import CODES, Design, Look, PartDesign
from .dice import Dice
from .extras import declared, known_years, repair, second_mark
from .looking import Looker, dates
from .names import DESIGNATION
from .texts import Eye
from .world import World
from .writer import word_rate

PURPOSES = ("buy", "sell", "service", "insurance")
FEWEST, MOST = 3, 25
_USUAL, _SPREAD = 11.5, 4.2  # marks of a dossier

# How readily a bench records a kind of mark, against a code on a transformer.
_EAGER = {
    "source-date-code": 1.0,
    "date-code": 0.35,
    "chart-letters": 0.9,
    "year-stamp": 0.35,
    "hand-date": 0.2,
    "serial": 0.4,
    "label-text": 0.4,
    "patent-number": 0.25,
    "model-designation": 0.3,
    "measured": 0.4,
    "condition": 0.12,
    "document": 0.35,
    "feature": 5.0,  # all together
}
_NOTHING = 0.06  # a look that finds nothing, where it is known how often one does
_NUMBERED = {"potentiometer": 4, "loudspeaker": 3, "electrolytic": 4, "valve": 6, "capacitor": 2}
_NO_END = 1000
_SPARE = 6
_VALVES = 0.15  # how often valves are looked at at all


@dataclass(frozen=True, slots=True)
class Candidate:
    """A look that could be made: on which part, of what kind, how readily.

    ``number``: the part's among its like, where there may be more or fewer of them.
    """

    part: ExpectedPart
    kind: str
    what: str
    weight: float
    result: str = "seen"
    number: int = 0


class Planner:
    """Draws designs for one world."""

    def __init__(self, world: World, eye: Eye, packs: Sequence[str], as_of: date) -> None:
        self.world, self.packs, self.as_of = world, tuple(packs), as_of
        self._looker = Looker(world, eye)
        self._checks: dict[tuple[str, str], Check] = {}
        for check in world.reference.checks:
            self._checks.setdefault((check.part_class, check.kind), check)
        self._lists = [self._candidates(m) for m in range(len(world.models))]

    # -- what could be looked at ------------------------------------------------------------------

    def _parts(self, m: int) -> list[tuple[int, ExpectedPart]]:
        """The model's parts, else the usual ones; numbered ones as many as there may be.

        With each its number among its like, 0 where there is always one.
        """
        usual = {u.part_class: u for u in reversed(list(self.world.reference.usual_ids.values()))}
        model = self.world.models[m]
        listed = list(model.expected) if model else []
        have = {p.part_class for p in listed}
        for u in self.world.reference.usual_ids.values():
            if not have or (u.part_class == "paper" and "paper" not in have):
                listed.append(ExpectedPart(u.id, u.part_class, u.assembly))
        out: list[tuple[int, ExpectedPart]] = []
        for part_class in dict.fromkeys(p.part_class for p in listed):
            alike = [p for p in listed if p.part_class == part_class]
            most = _NUMBERED.get(part_class)
            if most is None:
                out += [(0, p) for p in alike]
                continue
            if part_class in usual and not have:
                alike = []  # pot-1, pot-2, not pot and pot-2
            ids = {p.id for p in alike}
            for n in range(1, most + 1):
                extra = f"{usual[part_class].id}-{n}" if part_class in usual else ""
                if extra and extra not in ids and len(alike) < most:
                    like = alike[0] if alike else _first(listed, part_class)
                    alike.append(replace(like, id=extra))
            out += list(enumerate(alike[:most], start=1))
        return out

    def _candidates(self, m: int) -> list[Candidate]:
        out: list[Candidate] = []
        parts = self._parts(m)
        for number, part in parts:
            kinds = part.kinds or [k for c, k in self._checks if c == part.part_class]
            found: list[Candidate] = []
            for kind in dict.fromkeys(kinds):
                found += self._of_kind(part, kind)
                check = self._checks.get((part.part_class, kind))
                if check and check.found_original is not None and check.found_replaced is not None:
                    found.append(Candidate(part, kind, "", _NOTHING, "nothing-found"))
            out += [replace(c, number=number) for c in found]
        features = [f for f in self.world.reference.features.values() if f.id != DESIGNATION]
        for feature in features:
            weight = _EAGER["feature"] / len(features)
            on = _on(parts, feature.part)
            out += [Candidate(p, "feature", feature.id, weight) for p in on]
        for quantity in self.world.reference.quantities.values():
            weight = _EAGER["measured"]
            on = _on(parts, quantity.part)
            out += [Candidate(p, "measured", quantity.id, weight) for p in on]
        return out

    def _of_kind(self, part: ExpectedPart, kind: str) -> list[Candidate]:
        world, weight = self.world, _EAGER.get(kind, 0.0)
        if kind == "condition":
            groups = list(world.conditions)
            weight /= max(len(groups), 1)
            return [Candidate(part, kind, group, weight) for group in groups]
        if kind == "chart-letters":
            return [Candidate(part, kind, c.id, weight) for c in world.reference.tables.charts]
        can = {
            "serial": bool(world.reference.tables.serials),
            "label-text": world.labels.wordings,
            "patent-number": world.labels.patents,
            "model-designation": bool(world.designations),
            "feature": False,
            "measured": False,
        }
        return [Candidate(part, kind, "", weight)] if can.get(kind, weight > 0) else []

    # -- one design -------------------------------------------------------------------------------

    def design(self, dice: Dice, name: str) -> Design:
        """A design for the dossier ``name``."""
        world = self.world
        phantom = world.model(dice)
        design = Design(name, self.as_of, self.packs, dice.one_of(PURPOSES), phantom, [])
        known_years(dice, world, design, world.week(dice, phantom, None))
        week = world.week(dice, phantom, design.made)
        candidates = self._within(dice, self._lists[phantom])
        wanted = min(max(round(_USUAL + _SPREAD * dice.normal()), FEWEST), MOST)
        parts: dict[str, PartDesign] = {}
        styles: dict[str, int] = {}
        for c in self._chosen(dice, candidates, wanted):
            p = c.part
            part = parts.setdefault(p.id, PartDesign(p.id, p.part_class, p.assembly))
            look = self._looker.look(dice, c.kind, c.what, c.result, p.part_class, week, styles)
            part.looks.append(look)
        design.parts = list(parts.values())
        second_mark(dice, design, self._looker, week, styles)
        repair(dice, world, design, week)
        declared(dice, world, design)
        for part in design.parts:
            self._finish(part)
            if part.repair or any(_sure(look) for look in part.looks):
                design.recorded.add(part.part_class)
        return design

    def _chosen(self, dice: Dice, candidates: Sequence[Candidate], wanted: int) -> list[Candidate]:
        """The looks that are made, in their usual order; a code is seen or it is not."""
        taken: dict[int, Candidate] = {}
        codes: set[tuple[str, str]] = set()
        for at in dice.race(np.array([c.weight for c in candidates]), wanted + _SPARE):
            c = candidates[at]
            if (c.kind in CODES and (c.part.id, c.kind) in codes) or len(taken) == wanted:
                continue
            codes.add((c.part.id, c.kind))
            taken[at] = c
        return [taken[at] for at in sorted(taken)]

    def _within(self, dice: Dice, candidates: Sequence[Candidate]) -> list[Candidate]:
        """The candidates on the parts that there are: how many pots, loudspeakers, valves."""
        there: dict[str, int] = {}
        for part_class, most in _NUMBERED.items():
            there[part_class] = 1 + dice.below(most)
            if part_class == "valve":
                there[part_class] = 2 + dice.below(most - 1) if dice.chance(_VALVES) else 0
        return [c for c in candidates if c.number <= there.get(c.part.part_class, _NO_END)]

    def _finish(self, part: PartDesign) -> None:
        """What follows from the looks: whether it is dated, which sources fit, its origins."""
        world = self.world
        for look in part.looks:
            look.dates = dates(world, part.part_class, look)
            part.dated = part.dated or look.dates
            if look.dates and look.kind == "source-date-code" and look.layout is not None:
                fits = look.layout.fits
                sums = [sum(f.weight for f in fits if f.shape[0] == n) for n in (2, 3, 4)]
                before = part.lengths or (1.0, 1.0, 1.0)
                a, b, c = (x * s / max(sums) for x, s in zip(before, sums, strict=True))
                part.lengths = (a, b, c)
        prior = world.origin_weights(part.part_class)
        told = [self._told(part, origin) for origin in (ORIGINAL, LATER, PERIOD)]
        weights = [p * t for p, t in zip(prior, told, strict=True)]
        if part.repair is not None:
            leak = world.assume["repair.leak"]
            weights = [leak * w for w in weights] + [(1.0 - leak) * told[1]]
        part.origins = list(accumulate(weights))

    def _told(self, part: PartDesign, origin: str) -> float:
        """P(the looks come to what the design says | origin): words of a group, nothing found."""
        out = 1.0
        for look in part.looks:
            if look.kind == "condition" and look.result == "seen":
                out *= sum(word_rate(w, origin) for w in self.world.conditions[look.what])
            elif look.result == "nothing-found":
                check = self._checks[part.part_class, look.kind]
                found = check.found_original if origin == ORIGINAL else check.found_replaced
                out *= 1.0 - (found or 0.0)
        return out


def _first(parts: Sequence[ExpectedPart], part_class: str) -> ExpectedPart:
    return next(p for p in parts if p.part_class == part_class)


def _on(parts: Sequence[tuple[int, ExpectedPart]], name: str) -> list[ExpectedPart]:
    """The part that a feature or a quantity is seen on, if there is one."""
    return [p for _, p in parts if name in (p.id, p.id.rpartition("-")[0])][:1]


def _sure(look: Look) -> bool:
    """Whether something is seen whatever the truth: a feature may turn out to be absent."""
    return look.result == "seen" and not (look.kind == "feature" and look.text == "absent")
