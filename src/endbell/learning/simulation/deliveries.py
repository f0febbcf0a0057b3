"""Dated parts of one class: who came together, from whom, and when each was made.

docs/model.md, sections 5 to 7. A delivery has one source and one date; its parts were made up to
four weeks before it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from .buying import LENGTHS
from .design import PartDesign
from .dice import Again, Dice
from .world import World

ORIGINAL, LATER, PERIOD, TICKET = "original", "later", "period", "ticket"
"""Origins; 'ticket': the replacement that a known repair speaks of."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """The amp that a part sits in, as far as its date goes: model, week, stock age."""

    model: int
    week: int
    age: float


@dataclass(frozen=True, slots=True)
class Made:
    """A part as it left its maker: the week, the source number ('' where none is stamped)."""

    week: int
    source: str


def deliveries(
    dice: Dice, world: World, parts: Sequence[PartDesign], origins: dict[str, str]
) -> Iterator[tuple[str, list[PartDesign]]]:
    """The deliveries of one class in one assembly: (origin, parts)."""
    for origin in (ORIGINAL, LATER):
        members = [p for p in parts if origins[p.id] == origin]
        for delivery in _partition(dice, members, world.assume["delivery.concentration"]):
            yield origin, delivery
    for part in parts:
        if origins[part.id] in (PERIOD, TICKET):
            yield origins[part.id], [part]


def _partition(
    dice: Dice, members: Sequence[PartDesign], concentration: float
) -> list[list[PartDesign]]:
    """The Ewens partition, one part after the other."""
    out: list[list[PartDesign]] = []
    for n, part in enumerate(members):
        at = dice.u() * (concentration + n)
        for delivery in out:
            at -= len(delivery)
            if at < 0:
                delivery.append(part)
                break
        else:
            out.append([part])
    return out


def made(
    dice: Dice,
    world: World,
    parts: Sequence[PartDesign],
    origins: dict[str, str],
    fitted: Fitted,
    serviced: dict[str, int],
) -> dict[str, Made]:
    """When and by whom every part of a group was made; ``serviced``: week of a known repair.

    How many digits a source number has was settled by the design, or left to a few lengths: the
    truth goes on with the probability that the sources drawn would have them.
    """
    buying = world.buying(parts[0].part_class, fitted.model)
    out: dict[str, Made] = {}
    likely = 1.0 / _most(buying.most, parts)
    for origin, members in deliveries(dice, world, parts, origins):
        stamped = [p for p in members if p.lengths is not None]
        source = ""
        if stamped:
            shares = list(buying.lengths(origin == ORIGINAL, fitted.week))
            for part in stamped:
                shares = [a * b for a, b in zip(shares, part.lengths or (), strict=True)]
            whole = sum(shares)
            likely *= whole
            if whole <= 0.0:
                raise Again
            length = LENGTHS[dice.weighted(shares)]
            source = buying.number(dice, origin == ORIGINAL, fitted.week, length)
        date = _dated(dice, world, origin, members[0], fitted, serviced)
        for part in members:
            week = date if origin == PERIOD else world.on_grid(date - dice.pick(world.spread))
            out[part.id] = Made(week, source if part.lengths is not None else "")
    dice.keep(likely)
    return out


def _most(most: Callable[[int], float], parts: Sequence[PartDesign]) -> float:
    """The highest probability, over all truths, that the sources have the lengths that fit."""
    bounds = [
        sum(most(n) * x for n, x in zip(LENGTHS, p.lengths, strict=True))
        for p in parts
        if p.lengths is not None
    ]
    return min([*bounds, 1.0])


def _dated(
    dice: Dice,
    world: World,
    origin: str,
    part: PartDesign,
    fitted: Fitted,
    serviced: dict[str, int],
) -> int:
    """The week of a delivery, on the grid."""
    heavy = world.twist.heavy_tails
    if origin == ORIGINAL:
        lag = world.wait(part.part_class).weeks(dice, fitted.age, heavy)
        return world.on_grid(fitted.week - lag)
    if origin == PERIOD:
        return world.period_week(dice, fitted.week)
    service = serviced.get(part.id, -1) if origin == TICKET else -1
    if service < 0:
        service = world.service_week(dice, fitted.week)
    return world.on_grid(service - world.service.weeks(dice, 0.0, heavy))
