"""The order of work at the bench, which is never changed: what is dangerous comes last."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum


class Stage(StrEnum):
    """One step of the order. A later one opens only when the ones before it have passed."""

    DISCHARGED = "discharged"  # unplugged, capacitors discharged and found so
    SAFETY = "safety"  # earth, insulation, then leakage with the chassis closed
    LIMITED = "limited mains"  # first power through a variable transformer or a series lamp
    DC = "dc"  # full mains, no signal
    AUDIO = "audio"  # full mains, signal, a load that can take it

    @property
    def powered(self) -> bool:
        """Whether every line of the stage needs mains. Lines of the safety stage say it each."""
        return self in (Stage.LIMITED, Stage.DC, Stage.AUDIO)


ORDER: tuple[Stage, ...] = tuple(Stage)

TITLES: Mapping[Stage, str] = {
    Stage.DISCHARGED: "Unplugged and discharged",
    Stage.SAFETY: "Safety",
    Stage.LIMITED: "First power, mains limited",
    Stage.DC: "Full mains, no signal",
    Stage.AUDIO: "Signal",
}
"""What a stage is called where people read it."""
