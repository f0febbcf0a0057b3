"""How a code of digits stands in a text: which characters can be read, what is lost, separators.

A layout is part of the design: it is chosen before anything is known of the amp.  One layout can
hold codes of several shapes; which one it is belongs to the truth, and every shape that fits weighs
the same but for its unclear ends (docs/model.md, section 4).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from .dice import Dice

PLAIN, UNREAD = 0, 1
"""Sorts of cell; two and more: a choice of so many characters."""

Shape = tuple[int, int]
"""Source digits, year digits; two digits of the week follow."""

LOST = "..."


@dataclass(frozen=True, slots=True)
class Fit:
    """One way to take the cells for a code: its shape, and the place in the code of the first cell.

    ``weight``: P(the unclear ends | this shape).
    """

    weight: float
    shape: Shape
    offset: int

    @property
    def length(self) -> int:
        """Characters of the code."""
        return sum(self.shape) + 2


@dataclass(frozen=True, slots=True)
class Ends:
    """What decides which codes fit: cells, unread ends, lost ends, separators."""

    cells: int
    unread: tuple[bool, bool]
    lost: tuple[bool, bool]
    breaks: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """Cells by sort, separators by the cell they stand before, and every way codes fit.

    ``base``: the shape the person had in mind who wrote it down, ``start`` the place in its code of
    the first cell: only claims look at it.
    """

    cells: tuple[int, ...]
    separators: tuple[tuple[int, str], ...]
    lost: tuple[bool, bool]
    fits: tuple[Fit, ...]
    base: Shape
    start: int


@dataclass(frozen=True, slots=True)
class Grammar:
    """What fits are weighed with."""

    shapes: tuple[Shape, ...]
    stray: float
    ratio: float


def layout(
    dice: Dice, base: Shape, grammar: Grammar, separators: Sequence[str], unclear: float
) -> Layout:
    """Design the text of a code of shape ``base``; ``unclear``: how often characters are."""
    source, year = base
    total = source + year + 2
    cells = [PLAIN] * total
    if dice.chance(unclear):
        for _ in range(1 + dice.below(2)):
            cells[dice.below(total)] = UNREAD
    if dice.chance(unclear * 0.5):
        cells[dice.below(total)] = 2 + dice.below(2)
    breaks: dict[int, str] = {}
    if source and separators and dice.chance(0.55):
        breaks[source] = dice.one_of(separators)
    if separators and dice.chance(0.08):
        breaks[source + year] = breaks.get(source) or dice.one_of(separators)
    lost, start = (False, False), 0
    if dice.chance(unclear * 0.3):
        gone = 1 + dice.below(total - 3)
        if dice.chance(0.6):
            cells, lost, start = cells[gone:], (True, False), gone
            breaks = {at - gone: mark for at, mark in breaks.items() if at >= gone}
        else:
            cells, lost = cells[:-gone], (False, True)
            breaks = {at: mark for at, mark in breaks.items() if at <= len(cells)}
    ends = Ends(
        len(cells),
        (cells[0] == UNREAD, cells[-1] == UNREAD),
        lost,
        tuple(sorted(breaks)),
    )
    found = fits_of(ends, grammar)
    return Layout(tuple(cells), tuple(sorted(breaks.items())), lost, found, base, start)


@lru_cache(maxsize=4096)
def fits_of(ends: Ends, grammar: Grammar) -> tuple[Fit, ...]:
    """Every way in which the cells can stand for a code of one of the shapes."""
    found: list[Fit] = []
    for shape in grammar.shapes:
        length = sum(shape) + 2
        groups = {0, shape[0], sum(shape), length}
        for left, p_left in _strays(ends.unread[0], ends.lost[0], grammar.stray):
            for right, p_right in _strays(ends.unread[1], ends.lost[1], grammar.stray):
                missing = length - (ends.cells - left - right)
                if missing < 0:
                    continue
                for before in range(missing + 1):
                    p = p_left * p_right
                    p *= _lost(before, ends.lost[0], grammar.ratio)
                    p *= _lost(missing - before, ends.lost[1], grammar.ratio)
                    offset = before - left
                    if p > 0 and all(
                        at + offset in groups or not 0 < at + offset < length for at in ends.breaks
                    ):
                        found.append(Fit(p, shape, offset))
    return tuple(found)


def _strays(unread: bool, lost: bool, stray: float) -> tuple[tuple[int, float], ...]:
    """Whether an unread end is no character of the code, and how likely."""
    return ((0, 1.0 - stray), (1, stray)) if unread and not lost else ((0, 1.0),)


def _lost(count: int, lost: bool, ratio: float) -> float:
    if not lost:
        return float(count == 0)
    return (1.0 - ratio) * ratio ** (count - 1) if count else 0.0
