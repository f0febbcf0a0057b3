"""What the bench page shows: a stage, a line, a limit, a step worth making. Shapes and words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ..bench.gates import Let, Wait
from ..bench.lines import OFF, Judgement, Line
from ..bench.stages import Stage
from ..store.bench import BenchRow
from .bench_now import Step

LOOK = (*OFF, Judgement.CHECK)
"""Lines that stay open: out of limits, or held against a limit from memory alone."""

MOST_CHANGES = 8
"""Lines that are told to change with what is being typed."""

CAUSES = 3
"""Causes told under a line."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit of a line as it is told; ``memory``: it has no source but somebody's memory."""

    words: str
    title: str
    source: str
    memory: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """A line on the page. ``step``: how it is measured (again), None where it may not be.

    ``rows``: the readings it rests on, as recorded; ``causes``: likely causes, where it is off.
    """

    line: Line
    value: str
    expected: str
    sign: str
    off: bool
    limits: tuple[Limit, ...]
    rows: tuple[BenchRow, ...]
    step: Step | None
    causes: tuple[Mapping[str, Any], ...] = ()

    @property
    def named(self) -> str:
        """'Rail at B1'."""
        return f"{self.line.title} at {self.line.at}" if self.line.at else self.line.title


@dataclass(frozen=True, slots=True)
class Section:
    """A stage on the page.

    ``look``: lines that stay open; ``done``: lines that fold away; ``todo``: what can be measured
    now; ``follow``: titles of what follows from others; ``waits``: what has to pass first;
    ``hidden``: how many lines wait; ``letting``: lines that somebody could let pass by name.
    """

    stage: Stage
    number: int
    title: str
    state: str
    cautions: tuple[str, ...]
    waits: tuple[Wait, ...]
    hidden: int
    let: tuple[Let, ...]
    look: tuple[Shown, ...]
    done: tuple[Shown, ...]
    todo: tuple[Step, ...]
    follow: tuple[str, ...]
    letting: tuple[Wait, ...]
    cautioned: bool


@dataclass(frozen=True, slots=True)
class Next:
    """A measurement that is worth making. ``step``: it may be made now."""

    step: Step
    says: str
    minutes: float | None


@dataclass(frozen=True, slots=True)
class Would:
    """What a reading would be and do. ``line``: as it would stand; ``changes``: other lines that
    would change, as (name, before, after)."""

    line: Shown | None
    changes: tuple[tuple[str, str, Shown], ...]
