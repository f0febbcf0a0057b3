"""The shape of a computed sheet in JSON (``endbell-bench/1``), for its schema."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from .lines import Judgement
from .stages import Stage


class Strict(BaseModel):
    """Nothing but what is named."""

    model_config = ConfigDict(extra="forbid")


class CircuitTold(Strict):
    """The circuit that the sheet was held against."""

    id: str
    title: str
    protection: str
    source: str
    confidence: str


class WaitTold(Strict):
    """A line that has not passed and that others wait for."""

    line: str
    at: str
    title: str
    judgement: Judgement
    why: str


class LetTold(Strict):
    """A line let pass by somebody, for a reason."""

    line: str
    at: str
    title: str
    judgement: Judgement
    by: str
    reason: str
    on: str | None


class StageTold(Strict):
    """How far a stage is, and what is said before any of its steps."""

    stage: Stage
    state: Literal["waits", "open", "stopped", "passed"]
    cautions: list[str]
    waits_for: list[WaitTold]
    stopped_by: list[WaitTold]
    overridden: list[LetTold]


class BoundTold(Strict):
    """A limit with where it comes from."""

    low: float | None
    high: float | None
    shown: str
    title: str
    source: str
    confidence: str


class LineTold(Strict):
    """A line that may be shown. Numbers in ``unit`` (SI); ``shown`` is how a person reads it."""

    id: str
    title: str
    at: str
    stage: Stage
    unit: str
    value: float | None
    shown: str
    judgement: Judgement
    expected: float | None
    expected_shown: str
    spread: float | None
    bounds: list[BoundTold]
    says: str
    works: str
    readings: list[int]
    measured: bool
    how: str
    minutes: float | None
    caution: str


class ReadingKept(Strict):
    """A reading that was taken and is not judged."""

    n: int
    typed: str


class HeldTold(Strict):
    """A line that may not be shown yet, and the lines it waits for."""

    id: str
    at: str
    title: str
    stage: Stage
    waits_for: list[str]
    readings: list[ReadingKept]


class DueTold(Strict):
    """A reading that gates wait for and that may be taken now."""

    line: str
    at: str
    title: str


class SideTold(Strict):
    """A line on one side of the repair."""

    value: float | None
    shown: str
    judgement: Judgement


class ChangeTold(Strict):
    """A line before and after the repair."""

    id: str
    at: str
    title: str
    stage: Stage
    unit: str
    before: SideTold | None
    after: SideTold | None
    word: Literal[
        "put right", "still off", "off now", "held its own", "measured now", "not repeated"
    ]


class ReplacedTold(Strict):
    """A part that was replaced."""

    n: int
    part: str
    by_what: str
    why: str
    by: str
    done: str
    kept: bool
    bag: str
    first: str
    after: str
    note: str


class FaultTold(Strict):
    """A fault that was found."""

    n: int
    fault: str
    at: str
    part: str
    by: str
    on: str | None
    note: str


class ProblemTold(Strict):
    """A row that is not used: place, found, accepted."""

    file: str
    header: str
    table: int | None
    line: int | None
    found: str
    accepted: str
    nearest: list[str]


class Result(Strict):
    """A computed sheet."""

    format: Literal["endbell-bench/1"]
    endbell: str
    sheet: str
    dossier: str
    circuit: CircuitTold
    practice: str
    on: str | None
    by: str
    ambient: float = Field(description="K")
    says: str = Field(description="that local codes and licensed practice override")
    stages: list[StageTold]
    lines: list[LineTold] = Field(description="in the order of the work")
    held: list[HeldTold]
    due: list[DueTold] = Field(description="what comes first, in the order of the work")
    changes: list[ChangeTold]
    causes: list[dict[str, Any]] = Field(description="likeliest first")
    next: list[dict[str, Any]] = Field(description="measurements worth making, best first")
    diagnosis: dict[str, Any] | None = Field(default=None, description="more of the causes")
    replaced: list[ReplacedTold]
    faults: list[FaultTold]
    remarks: list[str]
    cautions: list[str]
    problems: list[ProblemTold]
