"""Where the spots of a view stand: rows by class of part, whatever a pack brings.

A unit is a pixel on a phone 360 wide: the drawing is :data:`WIDTH` units wide and no two spots
are nearer than a thumb.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..reference.types import ExpectedPart, Reference
from .amp_looks import Look, lowest_level

VIEWS = ("front", "back", "chassis", "papers")

WIDTH = 328.0
LINE = 62.0
"""Height of one line of spots with their labels."""

TARGET = 44.0
"""What a thumb needs (WCAG 2.5.5, enhanced target size)."""

EDGE = 16.0
"""What stays free at either side."""

MOST = 6
"""Spots that stand side by side."""

OTHER = "other"


@dataclass(frozen=True, slots=True)
class Rule:
    """A row of a view: the classes that stand there, in that order.

    ``align``: 'spread' evenly, 'left', or 'ends' (two spots at the edges); ``above``, ``below``:
    room for the drawing round it; ``most``: spots side by side.
    """

    name: str
    classes: tuple[str, ...]
    align: str = "spread"
    above: float = 0.0
    below: float = 0.0
    most: int = MOST


RULES: dict[str, tuple[Rule, ...]] = {
    "front": (
        Rule("top", ("handle",), below=4),
        Rule("panel", ("faceplate", "knobs"), above=26),
        Rule("badge", ("badge",), align="left", above=10),
        Rule("grille", ("cloth",), below=16),
        Rule("foot", ("covering", "cabinet"), align="ends", above=4),
    ),
    "back": (
        Rule("rail", ("chart", "chassis"), above=4),
        Rule("valves", ("valve",), above=14),
        Rule("walls", ("label", "baffle"), align="ends", above=8),
        Rule("speakers", ("loudspeaker",), above=26, below=20, most=3),
        Rule("floor", ("reverb-unit",), above=8),
        Rule("panel", ("back",), above=8),
    ),
    "chassis": (
        Rule("pots", ("potentiometer",), above=22),
        Rule("board", ("capacitor",), above=14),
        Rule("cans", ("electrolytic",), above=12),
        Rule(
            "iron",
            ("power-transformer", "choke", "output-transformer", "reverb-transformer"),
            above=14,
            below=8,
            most=4,
        ),
    ),
    "papers": (Rule("sheets", ("paper",), above=22, below=14, most=4),),
}

_ELSEWHERE = Rule(OTHER, (), above=18)


@dataclass(frozen=True, slots=True)
class Row:
    """A row laid out: from ``top`` to ``bottom``, with the place of each of its parts."""

    rule: Rule
    top: float
    bottom: float
    places: tuple[tuple[str, float, float], ...]  # part, x, y

    @property
    def name(self) -> str:
        return self.rule.name


@dataclass(frozen=True, slots=True)
class Layout:
    """A view laid out; ``rows`` from top to bottom, without those that hold nothing."""

    view: str
    height: float
    rows: tuple[Row, ...]

    def row(self, name: str) -> Row | None:
        """The row of that name, or None where it holds nothing."""
        return next((row for row in self.rows if row.name == name), None)


def view_of(part: ExpectedPart, looks: tuple[Look, ...], reference: Reference) -> str:
    """The view on which a part has its spot.

    By its class; a class without a rule stands where the least has to be opened to see it.
    """
    for view, rules in RULES.items():
        if any(part.part_class in rule.classes for rule in rules):
            return view
    if part.assembly == "papers":
        return "papers"
    level = lowest_level(looks, reference)
    if level is None:
        return "chassis" if part.assembly == "chassis" else "back"
    at = reference.levels.index(level) if level in reference.levels else 0
    return ("front", "back", "chassis")[min(at, 2)]


def layout(view: str, parts: Sequence[ExpectedPart]) -> Layout:
    """The rows of a view, for the parts that belong there, in the order given within a class."""
    left = {part.id: part for part in parts}
    rows: list[Row] = []
    y = 6.0
    for rule in (*RULES[view], _ELSEWHERE):
        chosen = (
            [p for name in rule.classes for p in left.values() if p.part_class == name]
            if rule.name != OTHER
            else list(left.values())
        )
        if not chosen:
            continue
        for part in chosen:
            del left[part.id]
        row = _row(rule, [part.id for part in chosen], y)
        rows.append(row)
        y = row.bottom
    return Layout(view, max(y + 10, 2 * LINE), tuple(rows))


def _row(rule: Rule, ids: Sequence[str], top: float) -> Row:
    lines = -(-len(ids) // rule.most)
    a_line = -(-len(ids) // lines)
    places: list[tuple[str, float, float]] = []
    for i, part in enumerate(ids):
        line, at = divmod(i, a_line)
        count = min(a_line, len(ids) - line * a_line)
        y = top + rule.above + line * (LINE + _between(rule)) + 24
        places.append((part, _x(rule, at, count), y))
    height = lines * LINE + (lines - 1) * _between(rule)
    return Row(rule, top, top + rule.above + height + rule.below, tuple(places))


def _between(rule: Rule) -> float:
    """Lines of loudspeakers need room for their circles, others stand close."""
    return rule.above + rule.below if rule.name == "speakers" else 0.0


def _x(rule: Rule, at: int, count: int) -> float:
    if rule.align == "ends" and count == 2:
        return 46.0 if at == 0 else WIDTH - 46.0
    if rule.align in ("left", "ends") and count == 1:
        return 62.0 if rule.align == "left" else 46.0
    return EDGE + (WIDTH - 2 * EDGE) * (at + 0.5) / count
