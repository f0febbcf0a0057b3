"""A computed sheet: its lines in the order of work, what is held and why, causes, what is next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..dossier.types import Problem
from .before_after import Change
from .circuit import Circuit
from .gates import StageState, Wait
from .lines import OFF, Judgement, Line
from .sheet_types import Sheet
from .stages import Stage

OVERRIDING = (
    "Local codes and licensed practice override everything on this sheet; where they differ, "
    "they hold."
)


@dataclass(frozen=True, slots=True)
class Held:
    """A line that may not be shown yet. ``readings``: numbers of the readings that were taken for
    it all the same; they are kept, and not judged."""

    id: str
    at: str
    title: str
    stage: Stage
    waits_for: tuple[Wait, ...]
    readings: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetResult:
    """What came of a sheet.

    ``lines``: those that may be shown, by stage, in the order of work.  ``held``: the others.
    ``due``: readings (line, place) that gates wait for and that may be taken now: they come first.
    ``changes``: each line before and after the repair, where readings were taken after it.
    ``diagnosis``: the causes' own record, with ``causes`` and ``next`` as they are told in JSON.
    ``problems``: rows that are not used; ``remarks``: what has to be said of rows that are.
    """

    sheet: Sheet
    circuit: Circuit
    lines: tuple[Line, ...]
    held: tuple[Held, ...]
    stages: tuple[StageState, ...]
    due: tuple[tuple[str, str], ...] = ()
    changes: tuple[Change, ...] = ()
    diagnosis: Mapping[str, object] = field(default_factory=dict[str, object])
    problems: tuple[Problem, ...] = ()
    remarks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def flagged(self) -> tuple[Line, ...]:
        """What follows from the drawing and is as it was made: to be known, not to be mended."""
        return tuple(line for line in self.lines if _is_flagged(line))

    @property
    def off(self) -> tuple[Line, ...]:
        """What has to be looked into, flagged lines apart."""
        return tuple(x for x in self.lines if x.judgement in OFF and not _is_flagged(x))

    def stage(self, stage: Stage) -> StageState:
        """The state of ``stage``."""
        return next(state for state in self.stages if state.stage is stage)

    def line(self, line: str, at: str = "") -> Line | None:
        """The line of that id and place, where it may be shown."""
        return next((x for x in self.lines if x.id == line and x.at == at), None)


def _is_flagged(line: Line) -> bool:
    return line.judgement is Judgement.ODD and line.value is None
