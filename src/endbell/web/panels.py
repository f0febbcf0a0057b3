"""What the panels beside the amp show: marks with their ids and photos, checks to offer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..store import DossierState
from ..store.state import PhotoRow
from .live import Seen
from .weighed import CheckLine, MarkLine, Weighed

BEHIND_CAUTION = ("chassis-out", "loosened")
"""Levels whose checks are shown to nobody who has not read what can hurt there."""


@dataclass(frozen=True, slots=True)
class MarkShown:
    """A mark of the verdict with its id in the store; ``left_out``: by a what-if."""

    id: str
    line: MarkLine
    photos: tuple[PhotoRow, ...]
    left_out: bool = False

    @property
    def n(self) -> int:
        return self.line.n


@dataclass(frozen=True, slots=True)
class Offer:
    """The checks as offered.

    ``first``: the one to make now (None: nothing is worth its minutes, or all stand behind a
    caution); ``rest``: the others; ``hidden``: level -> how many stand behind its caution.
    """

    first: CheckLine | None
    rest: tuple[CheckLine, ...]
    hidden: tuple[tuple[str, int], ...]


def marks_shown(seen: Seen, left_out: Sequence[int] = ()) -> tuple[MarkShown, ...]:
    """The marks of a verdict, in the order of the form."""
    standing = seen.state.standing
    return tuple(
        MarkShown(
            standing[line.n - 1].id,
            line,
            seen.state.photos_of(standing[line.n - 1].id),
            line.n in left_out,
        )
        for line in sorted(seen.weighed.marks, key=lambda line: line.n)
        if line.n <= len(standing)
    )


def numbers_of(state: DossierState, marks: Sequence[str]) -> tuple[int, ...]:
    """The numbers in the form of marks by their ids; those that don't stand have none."""
    number = {mark.id: n for n, mark in enumerate(state.standing, start=1)}
    return tuple(sorted({number[mark] for mark in marks if mark in number}))


def read_levels(state: DossierState) -> frozenset[str]:
    """The levels whose caution was acknowledged for this amp."""
    return frozenset(read.level for read in state.acknowledged)


def offer(weighed: Weighed, state: DossierState, deepest: str = "") -> Offer:
    """One check first, the others after it.

    ``deepest``: the level beyond which the reader does not want to go ('': any).  What was said not
    to be possible is left out, and so is what stands behind a caution that nobody has read.
    """
    answered = {(answer.check, answer.part) for answer in state.answers}
    order = [level for level, _ in weighed.levels]
    allowed = set(order[: order.index(deepest) + 1] if deepest in order else order)
    open_checks = [c for c in weighed.next if (c.check, c.part) not in answered]
    wanted = [c for c in open_checks if c.level in allowed]
    locked = {level for level in BEHIND_CAUTION if level in weighed.cautions} - read_levels(state)
    shown = sorted(
        (c for c in wanted if c.level not in locked), key=lambda c: (-c.worth, c.check, c.part)
    )
    hidden = tuple(
        (level, count)
        for level in order
        if level in locked and (count := sum(c.level == level for c in wanted))
    )
    return Offer(shown[0] if shown else None, tuple(shown[1:]), hidden)
