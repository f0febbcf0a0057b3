"""What a design holds beside the looks at usual parts: known years, repairs, odd marks, odd ids."""

from __future__ import annotations

from datetime import date, timedelta

from .design import Design, PartDesign, Repaired
from .dice import Dice
from .looking import Looker
from .world import World

_KNOWN, _KNOWN_WITH_MODELS = 0.3, 0.04  # how often years of manufacture are known
_REPAIR = 0.14
_MENDED = 0.15  # of the tickets: the part was mended, not replaced
_SECOND, _ODD, _PRINTED = 0.05, 0.015, 0.02
_OWN_ID = 0.05
_SIDES = ("front", "rear", "left", "upper")


def known_years(dice: Dice, world: World, design: Design, week: int) -> None:
    """Perhaps the years in which such a form was made at all, about the phantom's week."""
    with_models = world.models[0] is not None
    if not dice.chance(_KNOWN_WITH_MODELS if with_models else _KNOWN):
        return
    first = world.calendar.year[week] - dice.below(6)
    last = min(first + 2 + dice.below(7), world.calendar.as_of.year)
    low, high = world.calendar.interval(date(first, 1, 1), date(last, 12, 31))
    if high > low:
        design.made, design.made_text = (low, high), f"{first}/{last}"


def second_mark(
    dice: Dice, design: Design, looker: Looker, week: int, styles: dict[str, int]
) -> None:
    """Perhaps a second date on a part, a code on a part that seldom has one, a printed term."""
    classes = looker.world.reference.classes
    dated = [p for p in design.parts if (c := classes.get(p.part_class)) and c.dated]
    others = [p for p in design.parts if p not in dated and p.assembly != "papers"]
    kinds: list[tuple[list[PartDesign], float, tuple[str, ...]]] = [
        (dated, _SECOND, ("year-stamp", "hand-date", "date-code", "source-date-code")),
        (others, _ODD, ("source-date-code", "date-code")),
    ]
    if looker.world.labels.wordings:
        kinds.append((dated, _PRINTED, ("label-text",)))
    for parts, often, what in kinds:
        if parts and dice.chance(often):
            part = dice.one_of(parts)
            if all(look.result != "nothing-found" for look in part.looks):
                kind = dice.one_of(what)
                found = looker.look(dice, kind, "", "seen", part.part_class, week, styles)
                part.looks.append(found)


def repair(dice: Dice, world: World, design: Design, week: int) -> None:
    """Perhaps a ticket says that a part was replaced, on a part that is there or on one more."""
    last = world.size - 2
    if not dice.chance(_REPAIR) or week + 60 >= last:
        return
    parts = [p for p in design.parts if p.part_class not in ("chassis", "paper")]
    if not parts:
        return
    part = dice.one_of(parts)
    day = world.calendar.day(dice.between(week + 40, last), dice.below(7))
    at = dice.u()
    if at < 0.3:
        done, first, end = day.isoformat(), day, day
    elif at < 0.7:
        done, first = f"{day.year}-{day.month:02d}", day.replace(day=1)
        end = (first + timedelta(days=32)).replace(day=1) - timedelta(days=1)
    else:
        done, first, end = str(day.year), date(day.year, 1, 1), date(day.year, 12, 31)
    low, high = world.calendar.interval(first, end)
    if high > low:
        found = Repaired(low, high - 1, done, f"ticket {1000 + dice.below(9000)}")
        if dice.chance(_MENDED):
            part.mended = found
        else:
            part.repair = found


def declared(dice: Dice, world: World, design: Design) -> None:
    """Perhaps one part goes by an id of the bench's own, which the file must then explain."""
    if not design.parts or not dice.chance(_OWN_ID):
        return
    part = dice.one_of(design.parts)
    if part.part_class in ("chassis", "paper"):
        return
    stem = part.id.rpartition("-")[0] or part.id
    part.id, part.declared = f"{stem}-{dice.one_of(_SIDES)}", True
