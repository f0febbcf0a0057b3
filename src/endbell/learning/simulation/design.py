"""The design of a dossier: what is looked at, and how well it can be read. Drawn before the truth.

A design knows nothing of the amp. It is shaped round a *phantom*, a model and a week drawn for the
purpose and then thrown away, so that its papers and labels are of a likely age.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from .labels import Printing
from .layout import Layout
from .world import Made

CODES = ("source-date-code", "date-code")
DATING = (*CODES, "year-stamp", "hand-date", "label-text", "patent-number")
PRINTED = ("label-text", "patent-number")
ASSEMBLY = ("chart-letters", "year-stamp", "hand-date")


@dataclass(slots=True)
class Look:
    """One look at a part.

    ``what``: feature, quantity, condition group, chart scheme, form of a hand date, paper;
    ``text``, ``day``: of what is settled beforehand (a label's wording, a paper and its date);
    ``pair``: sorts of the two characters of letters and stamps; ``unread``: digits that can't be
    read; ``number``, ``unit``: an uncertainty; ``week``: that of a paper's date; ``printing``: how
    what is printed dates it; ``dates``: whether it dates its part.
    """

    kind: str
    legibility: str = "clear"
    result: str = "seen"
    what: str = ""
    text: str = ""
    day: str = ""
    layout: Layout | None = None
    pair: tuple[int, int] = (0, 0)
    unread: tuple[int, ...] = ()
    number: float = 0.0
    unit: str = ""
    week: int = 0
    printing: Printing | None = None
    dates: bool = False


@dataclass(slots=True)
class Repaired:
    """Known work on a part, done in weeks first..last (cut to the grid)."""

    first: int
    last: int
    done: str
    note: str


@dataclass(slots=True)
class PartDesign:
    """A part and what is looked at on it. ``declared``: its id says nothing, so the file must.

    ``repair``: it is known to have been replaced; ``mended``: worked on and kept, which nobody
    weighs.  ``dated``: it bears a mark that dates it.  ``lengths``: how well two, three and four
    digits of source fit its codes (the best of them 1), None where no code bears a source.
    ``origins``: running sums of the weights of original, later, period (and of what a known repair
    says), given what its looks can come to.
    """

    id: str
    part_class: str
    assembly: str
    declared: bool = False
    looks: list[Look] = field(default_factory=list[Look])
    repair: Repaired | None = None
    mended: Repaired | None = None
    dated: bool = False
    lengths: tuple[float, float, float] | None = None
    origins: list[float] = field(default_factory=list[float])


@dataclass(slots=True)
class Design:
    """Everything about a dossier that is settled before the truth is drawn.

    ``made``: years known to be right, as weeks and as written; ``phantom``: a likely model;
    ``recorded``: classes of part that are seen whatever the truth.
    """

    id: str
    as_of: date
    packs: Sequence[str]
    purpose: str
    phantom: int
    parts: list[PartDesign]
    made: Made | None = None
    made_text: str = ""
    recorded: set[str] = field(default_factory=set[str])

    @property
    def groups(self) -> list[list[PartDesign]]:
        """Dated parts by assembly and class; a part with a known repair stands alone."""
        found: dict[tuple[str, ...], list[PartDesign]] = {}
        for part in self.parts:
            if part.dated:
                alone = (part.id,) if part.repair else ()
                found.setdefault((part.assembly, part.part_class, *alone), []).append(part)
        return list(found.values())
