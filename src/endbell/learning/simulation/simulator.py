"""The simulator: dossier i of run s, whole and reproducible, in any order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from ...reference.types import Reference
from .claims import claim, holds
from .dice import Again, Dice
from .drawing import Outcome, outcome
from .planning import Planner
from .texts import Eye
from .types import Drawn, Truth, Twist
from .world import World
from .writing import dossier_text

_TRUTHS = 400
_DESIGNS = 50


class Simulator:
    """Draws whole dossiers from the generative model of docs/model.md.

    Dossier ``i`` of run ``seed`` is the same whatever was drawn before it, on any machine.  First
    its *design* is drawn, what is looked at and how legible it is, independent of any amp; then the
    truth, again and again until it fits the design.  Factors of the model that are no
    probability of a text (parts a model does not have, papers, printed terms, serials, a known
    repair after the build) are the probability with which a truth is kept.  So the truth beside a
    dossier is a draw from the posterior that the model gives for it, exactly.
    """

    def __init__(
        self,
        reference: Reference,
        assume: Mapping[str, float],
        *,
        packs: Sequence[str],
        as_of: date,
        twist: Twist | None = None,
    ) -> None:
        """``assume``: every named number; ``packs``: what the dossiers name."""
        self._world = World(reference, assume, as_of, twist or Twist())
        self._eye = Eye(reference.tables)
        self._planner = Planner(self._world, self._eye, packs, as_of)

    def draw(self, seed: int, i: int) -> Drawn:
        """Dossier ``i`` of the run ``seed``."""
        name = f"SIM-{seed}-{i:06d}"
        dice = Dice(seed, i)
        for _ in range(_DESIGNS):
            design = self._planner.design(dice, name)
            for _ in range(_TRUTHS):
                try:
                    found = outcome(dice, self._world, self._eye, design)
                except Again:
                    continue
                said = claim(dice, self._world, design, found)
                true = holds(said, self._world, design, found)
                text = dossier_text(design, found.marks, said)
                return Drawn(name, text, self._truth(found, true))
        raise RuntimeError(f"{name}: no amp fits any design; is anything in these packs possible?")

    def _truth(self, found: Outcome, claim_true: bool | None) -> Truth:
        amp = found.fitted
        model = self._world.models[amp.model]
        return Truth(
            None if model is None else model.id,
            amp.week,
            self._world.calendar.label(amp.week),
            amp.age,
            found.origins,
            found.married,
            claim_true,
        )
