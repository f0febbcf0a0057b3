"""Marks that are simply wrong: valid marks of their kind, unrelated to the amp (a twist)."""

from __future__ import annotations

from datetime import date

from .calendar import week_of
from .deliveries import Made
from .design import Look
from .dice import Dice
from .world import World


def unrelated(dice: Dice, world: World, look: Look) -> Made:
    """Any week the mark's scheme can say, any source number its text has room for."""
    low, high = world.scheme_weeks(look.kind)
    if look.kind == "source-date-code":
        low = max(week_of(date(int(world.assume["scheme.first_year"]), 1, 8)), 0)
    elif look.kind == "date-code" and look.layout is None:
        years = [y for ys in world.reference.tables.letter_dates.years.values() for y in ys]
        low = max(week_of(date(min(years), 1, 8)), 0)
    week = dice.between(min(low, high - 1), high - 1)
    source = ""
    if look.kind == "source-date-code" and look.layout is not None:
        digits = dice.one_of([f.shape[0] for f in look.layout.fits])
        source = f"{dice.below(10**digits):0{digits}d}"
    return Made(week, source)
