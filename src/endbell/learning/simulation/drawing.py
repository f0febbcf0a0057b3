"""One truth drawn for a design, and the marks that follow from it.

Every function may raise ``Again``: the truth drawn does not fit the design. The design is then kept
and the whole truth is drawn anew, so that what is kept is a draw from the model given the design.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .deliveries import LATER, ORIGINAL, PERIOD, TICKET, Fitted, made
from .design import Design
from .dice import Again, Dice
from .texts import Eye
from .world import World
from .writer import Writer
from .writing import Value

_ORIGINS = (ORIGINAL, LATER, PERIOD, TICKET)


@dataclass(slots=True)
class Outcome:
    """The truth and the marks. ``hints``: years a reader would take from a date, in file order."""

    fitted: Fitted
    origins: dict[str, str]
    married: frozenset[str]
    marks: list[dict[str, Value]] = field(default_factory=list[dict[str, Value]])
    hints: list[str] = field(default_factory=list[str])


def outcome(dice: Dice, world: World, eye: Eye, design: Design) -> Outcome:
    """Draw model, week, stock age, origins, dates and marks; raises ``Again``."""
    m = world.model(dice)
    dice.keep(world.unexpected(m, design.recorded))
    amp = Fitted(m, world.week(dice, m, design.made), world.stock_age(dice))
    writer = Writer(dice, world, eye, design)
    writer.papers(amp.week)
    amps: dict[str, Fitted] = {}
    married: set[str] = set()
    for assembly in dict.fromkeys(p.assembly for p in design.parts):
        amps[assembly] = amp
        mu = world.married(assembly)
        if mu > 0.0 and dice.chance(mu):
            married.add(assembly)
            amps[assembly] = Fitted(m, world.donor_week(dice), world.stock_age(dice))
    origins: dict[str, str] = {}
    serviced: dict[str, int] = {}
    for part in design.parts:
        origins[part.id] = _ORIGINS[dice.pick(part.origins)]
        if part.repair is not None and origins[part.id] == TICKET:
            serviced[part.id] = dice.between(part.repair.first, part.repair.last)
            if serviced[part.id] <= amps[part.assembly].week:
                raise Again
    for part in design.parts:
        writer.beforehand(part, _sort(origins[part.id]), amps[part.assembly])
    written: dict[int, dict[str, Value]] = {}
    hints: dict[int, str] = {}
    for group in design.groups:
        found = made(dice, world, group, origins, amps[group[0].assembly], serviced)
        for part in group:
            for look in part.looks:
                if look.dates:
                    mark = writer.dating(part, look, found[part.id])
                    written[id(look)], hints[id(look)] = mark
    for part in design.parts:
        for look in part.looks:
            if id(look) not in written:
                mark = writer.look(part, look, _sort(origins[part.id]), amps[part.assembly])
                written[id(look)], hints[id(look)] = mark
    out = Outcome(amp, _truth(design, origins, married), frozenset(married))
    for part in design.parts:
        for look in part.looks:
            out.marks.append({"part": part.id, "kind": look.kind, **written[id(look)]})
            if hints[id(look)]:
                out.hints.append(hints[id(look)])
    recorded = design.recorded | _seen(design, out.marks)
    if recorded != design.recorded:
        dice.keep(world.unexpected(m, recorded) / world.unexpected(m, design.recorded))
    return out


def _sort(origin: str) -> str:
    return LATER if origin == TICKET else origin


def _truth(design: Design, origins: Mapping[str, str], married: set[str]) -> dict[str, str]:
    """Origins as the verdict means them: nothing in a married assembly is original."""
    out: dict[str, str] = {}
    for part in design.parts:
        origin = _sort(origins[part.id])
        out[part.id] = LATER if part.assembly in married and origin == ORIGINAL else origin
    return out


def _seen(design: Design, marks: list[dict[str, Value]]) -> set[str]:
    """Classes of which something was seen."""
    classes = {p.id: p.part_class for p in design.parts}
    return {classes[str(mark["part"])] for mark in marks if "result" not in mark}
