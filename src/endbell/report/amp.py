"""The amp as a list of spots: everything that can be looked at, where it is, how it stands.

The list is the truth; the drawing of :mod:`endbell.report.amp_drawing` is a view of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..dossier.types import Mark, Part
from ..reference.types import ExpectedPart, Model, Reference
from .amp_layout import VIEWS, Layout, layout, view_of
from .amp_looks import Look, looks_of
from .amp_parts import parts_of
from .wording import title_of_class

UNSEEN, SEEN, FITS, ODD, ABSENT = "unseen", "seen", "fits", "odd", "absent"

STATE_WORDS = {
    UNSEEN: "not looked at",
    SEEN: "seen",
    FITS: "fits",
    ODD: "at odds",
    ABSENT: "known absent",
}

NOT_THERE = ("absent", "nothing-found")

Conflicts = Mapping[int, float | None]
"""Mark number -> how likely a value no likelier than its own is, given all others."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One part on one view.

    ``x``, ``y``: its place in the drawing of that view; ``marks``: the numbers of its marks;
    ``looks``: everything that can be looked at there; ``expected``: the model left with it.
    """

    part: str
    part_class: str
    assembly: str
    view: str
    x: float
    y: float
    title: str
    place: str
    looks: tuple[Look, ...]
    state: str
    marks: tuple[int, ...] = ()
    expected: bool = True

    @property
    def state_words(self) -> str:
        return STATE_WORDS[self.state]

    @property
    def level(self) -> str:
        """The level of its first look."""
        return self.looks[0].level if self.looks else "outside"


@dataclass(frozen=True, slots=True)
class Amp:
    """All views of an amp: their spots and how they are laid out."""

    model: Model | None
    spots: tuple[Spot, ...]
    layouts: Mapping[str, Layout]

    def of(self, view: str) -> tuple[Spot, ...]:
        """The spots of a view, from top to bottom."""
        return tuple(spot for spot in self.spots if spot.view == view)

    def spot(self, part: str) -> Spot | None:
        """The spot of a part."""
        return next((spot for spot in self.spots if spot.part == part), None)

    def after(self, part: str) -> Spot | None:
        """The neighbour to go on to: the next spot of the same class on the same view."""
        row = self.neighbours(part)
        at = next((i for i, spot in enumerate(row) if spot.part == part), None)
        return row[at + 1] if at is not None and at + 1 < len(row) else None

    def neighbours(self, part: str) -> tuple[Spot, ...]:
        """The spots of a part's class on its view, itself among them."""
        spot = self.spot(part)
        if spot is None:
            return ()
        return tuple(
            s for s in self.spots if s.part_class == spot.part_class and s.view == spot.view
        )


def amp_of(
    model: Model | None,
    reference: Reference,
    marks: Sequence[Mark] = (),
    own: Iterable[Part] = (),
    *,
    repaired: Iterable[str] = (),
    conflicts: Conflicts | None = None,
    sets: Iterable[tuple[int, ...]] = (),
) -> Amp:
    """The amp of ``model`` (None: no pack knows it) with what was recorded of it.

    ``own``: parts that the dossier describes; ``repaired``: parts that repairs name.
    ``conflicts`` and ``sets`` come from the verdict: each mark's conflict and the sets of marks
    that can't all be right; without them nothing is said to fit or to be at odds.
    """
    recorded = [*(mark.part for mark in marks), *repaired]
    parts = parts_of(model, reference, recorded, own)
    looks = {p.id: looks_of(p, model.id if model else None, reference) for p in parts}
    on_part: dict[str, list[Mark]] = {}
    for mark in marks:
        on_part.setdefault(mark.part, []).append(mark)
    odd = _at_odds(conflicts, sets, reference)
    expected = {part.id for part in model.expected} if model else {part.id for part in parts}
    by_view: dict[str, list[ExpectedPart]] = {view: [] for view in VIEWS}
    for part in parts:
        by_view[view_of(part, looks[part.id], reference)].append(part)
    titles = _titles(parts, reference)
    layouts = {view: layout(view, there) for view, there in by_view.items()}
    known = {part.id: part for part in parts}
    spots: list[Spot] = []
    for view, laid_out in layouts.items():
        for row in laid_out.rows:
            for part_id, x, y in row.places:
                part = known[part_id]
                own_marks = on_part.get(part_id, [])
                spots.append(
                    Spot(
                        part_id,
                        part.part_class,
                        part.assembly,
                        view,
                        x,
                        y,
                        titles[part_id],
                        part.place,
                        looks[part_id],
                        state_of_marks(own_marks, conflicts, odd),
                        tuple(mark.n for mark in own_marks),
                        part_id in expected,
                    )
                )
    return Amp(model, tuple(spots), layouts)


def state_of_marks(marks: Sequence[Mark], conflicts: Conflicts | None, odd: frozenset[int]) -> str:
    """How a part stands by its marks.

    At odds comes first, then what fits; what was looked at and said nothing yet is seen; a part
    of which no mark was seen and one was looked for in vain is known absent.
    """
    if not marks:
        return UNSEEN
    if any(mark.n in odd for mark in marks):
        return ODD
    seen = [mark for mark in marks if mark.result == "seen"]
    if not seen and any(mark.result in NOT_THERE for mark in marks):
        return ABSENT
    if conflicts and any(conflicts.get(mark.n) is not None for mark in seen):
        return FITS
    return SEEN


def _at_odds(
    conflicts: Conflicts | None, sets: Iterable[tuple[int, ...]], reference: Reference
) -> frozenset[int]:
    """Marks less likely than the packs' bar for what can't all be right, and members of sets."""
    bar = reference.assumptions.get("conflict.p_all_right")
    low = {
        n
        for n, p in (conflicts or {}).items()
        if p is not None and bar is not None and p < bar.value
    }
    return frozenset(low.union(*sets))


def _titles(parts: Sequence[ExpectedPart], reference: Reference) -> dict[str, str]:
    """'output transformer', 'potentiometer 3'; the id where a class has no title."""
    titles: dict[str, str] = {}
    for part in parts:
        if not part.part_class:
            titles[part.id] = part.id
            continue
        title = title_of_class(reference, part.part_class)
        tail = part.id.rpartition("-")[2]
        titles[part.id] = f"{title} {tail}" if tail.isdigit() and tail != part.id else title
    met: dict[str, int] = {}
    for title in titles.values():
        met[title] = met.get(title, 0) + 1
    return {
        part: title if met[title] == 1 or title == part else f"{title} ({part})"
        for part, title in titles.items()
    }
