"""The amp of a dossier as it stands now: its spots, with what the last verdict says of them."""

from __future__ import annotations

from dataclasses import dataclass

from ..dossier.types import Mark
from ..reference import PackError, PackNotFound, Reference
from ..reference.types import Model
from ..report.amp import Amp, Spot, amp_of
from ..report.amp_looks import Look
from ..report.amp_parts import model_of
from ..store import DossierState
from .asking import answered_of, day_of
from .desk import Desk
from .typed_mark import marks_of, own_parts, shown
from .weighed import Weighed

CAUTIONED = ("chassis-out", "loosened")
"""Levels that stand behind their caution until somebody has put a name to it."""


@dataclass(frozen=True, slots=True)
class AmpNow:
    """A dossier with the packs it names and its amp.  ``said``: part -> what was recorded there."""

    state: DossierState
    reference: Reference
    model: Model | None
    marks: tuple[Mark, ...]
    amp: Amp
    said: dict[str, str]

    def look(self, spot: Spot, look_id: str) -> Look | None:
        """The look of that id at a spot."""
        return next((look for look in spot.looks if look.id == look_id), None)

    def made(self, spot: Spot, look: Look) -> bool:
        """Whether that look has been made."""
        return any(m.part == spot.part and look.made_by(m) for m in self.marks)

    def behind_caution(self, level: str) -> str | None:
        """The caution that stands before a level and has not been acknowledged; else None."""
        if level not in CAUTIONED or level not in self.reference.cautions:
            return None
        if any(read.level == level for read in self.state.acknowledged):
            return None
        return self.reference.cautions[level]


def amp_now(desk: Desk, state: DossierState, weighed: Weighed | None = None) -> AmpNow:
    """The amp of ``state``; ``weighed``: its verdict, else whatever is held of it is taken."""
    reference = reference_of(desk, state.packs)
    model = model_of(state.claim.get("model"), reference)
    marks = marks_of(state)
    verdict = weighed or held_verdict(desk, state)
    lines = {line.n: line for line in verdict.marks} if verdict else {}
    amp = amp_of(
        model,
        reference,
        marks,
        own_parts(state),
        repaired=[str(row["part"]) for row in state.repair_rows if "part" in row],
        conflicts={n: line.conflict for n, line in lines.items()},
        sets=[(n,) for n, line in lines.items() if line.odd],
    )
    said: dict[str, str] = {}
    for mark in marks:
        words = shown(mark)
        said[mark.part] = f"{said[mark.part]}, {words}" if mark.part in said else words
    return AmpNow(state, reference, model, marks, amp, said)


def reference_of(desk: Desk, packs: tuple[str, ...]) -> Reference:
    """The packs that a dossier names, without those that can't be had."""
    usable = tuple(dict.fromkeys(packs))
    while usable:
        try:
            return desk.packs.reference(usable)
        except PackNotFound as error:
            usable = tuple(pack for pack in usable if pack != error.pack)
        except PackError:
            break
    return desk.packs.reference(())


def held_verdict(desk: Desk, state: DossierState) -> Weighed | None:
    """The full verdict of ``state`` if it has been weighed already; nothing is waited for."""
    return desk.weigher.verdict_if_held(
        state.form(), day=day_of(state), answered=answered_of(state)
    )


def next_stop(now: AmpNow, spot: Spot, look: Look) -> tuple[Spot, Look] | None:
    """Where the hand goes after an entry: the neighbour of the same class, else what is left here.

    Neighbours at which this look has been made already are passed over; of a part with features the
    next one not yet looked at comes first.
    """
    if look.feature is not None:
        for other in spot.looks[spot.looks.index(look) + 1 :]:
            if other.feature and not now.made(spot, other) and not now.behind_caution(other.level):
                return spot, other
    row = now.amp.neighbours(spot.part)
    at = next((i for i, s in enumerate(row) if s.part == spot.part), len(row))
    for neighbour in row[at + 1 :]:
        same = now.look(neighbour, look.id)
        if same is not None and not now.made(neighbour, same):
            return neighbour, same
    return None
