"""A bench sheet as typed: readings, overrides, recordings, what was replaced, faults found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from ..dossier.types import Problem, SetAside
from .readings import Reading, Recording

ROOM = 293.15  # K; taken where the sheet gives no ambient


@dataclass(frozen=True, slots=True)
class Override:
    """Somebody lets a line pass that has not, by name and for a reason.

    ``line``: id of the line, with ``at`` where only one place of it is meant; or ``stage``: every
    line of that stage that later steps wait for.  Never more than what it names.
    """

    n: int
    by: str
    reason: str
    line: str = ""
    at: str = ""
    stage: str = ""
    on: date | None = None

    def covers(self, line: str, at: str, stage: str) -> bool:
        """Whether it lets ``line`` at ``at``, a line of ``stage``, pass."""
        if self.line:
            return self.line == line and self.at in ("", at)
        return bool(self.stage) and self.stage == stage


@dataclass(frozen=True, slots=True)
class Replaced:
    """A part that was replaced. ``kept``: the old one was bagged, in bag ``bag``, for the owner.

    ``first``, ``after``: what it read before and what the new one reads, as typed.
    """

    n: int
    part: str
    by_what: str = ""
    why: str = ""
    by: str = ""
    done: str = ""
    kept: bool = False
    bag: str = ""
    first: str = ""
    after: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class FaultFound:
    """A fault that was found. ``fault``: its id among the causes, or words; ``at``: where."""

    n: int
    fault: str
    at: str = ""
    part: str = ""
    by: str = ""
    on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One amp on the bench. ``circuit``: 'pack/model', or '' with ``own_circuit`` as typed.

    ``ambient``: K.  ``readings`` holds readings that can be; those that can't (swapped probes, a
    wrong unit) are in ``impossible``, each with the sentence why.  ``problems``: rows that are not
    used; ``set_aside``: those rows as typed; ``remarks``: slips that cost nothing.
    """

    id: str
    file: str = ""
    dossier: str = ""
    circuit: str = ""
    own_circuit: Mapping[str, object] | None = None
    practice: str = "iec"
    on: date | None = None
    by: str = ""
    ambient: float = ROOM
    note: str = ""
    readings: tuple[Reading, ...] = ()
    impossible: tuple[tuple[Reading, str], ...] = ()
    overrides: tuple[Override, ...] = ()
    recordings: tuple[Recording, ...] = ()
    replaced: tuple[Replaced, ...] = ()
    faults: tuple[FaultFound, ...] = ()
    problems: tuple[Problem, ...] = ()
    remarks: tuple[Problem, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
