"""The verdict: what all marks together say. Frozen values only; the JSON form is in ``as_json``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ..dossier.types import Claim, Mark, Problem
from ..marks import Span
from ..reference.types import PackStamp

Run = tuple[str, str, float]
"""First week, last week ('1964-W06'), mass."""


@dataclass(frozen=True, slots=True)
class BuildDate:
    """The distribution of the week of final assembly.

    ``years``: every year with at least 0.0005, ``all_years`` every year; ``sets``: '0.50', '0.80',
    '0.95' -> runs of weeks; ``weeks``: p of every week from ``start``, shape (T,).
    """

    edtf: str
    mode: str
    mode_year: int
    p_mode_year: float
    years: Mapping[int, float]
    decades: Mapping[int, float]
    sets: Mapping[str, tuple[Run, ...]]
    start: str
    weeks: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ModelOdds:
    model: str
    p: float


@dataclass(frozen=True, slots=True)
class PartVerdict:
    """P of each origin, the word for it, whether the word stands under changed assumptions."""

    part: str
    part_class: str
    assembly: str
    original: float
    period_replacement: float
    later_replacement: float
    word: str
    stable: bool = True


@dataclass(frozen=True, slots=True)
class DeliveryVerdict:
    parts: tuple[str, ...]
    together: float
    all_original: float


@dataclass(frozen=True, slots=True)
class AssemblyVerdict:
    """P(married) and, if it is another amp's, when that one was built."""

    assembly: str
    married: float
    years: Mapping[int, float]
    sets: Mapping[str, tuple[Run, ...]]


@dataclass(frozen=True, slots=True)
class Clause:
    """One clause of the claim; ``p`` None: cannot be judged (no pack knows the model, say)."""

    clause: str
    p: float | None


@dataclass(frozen=True, slots=True)
class ClaimVerdict:
    p: float | None
    clauses: tuple[Clause, ...]
    weakest: str | None
    not_looked_at: tuple[str, ...]
    unjudged: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WeighedReading:
    """One thing a mark can mean, with its weight after everything else has been weighed too."""

    label: str
    p: float
    source: str | None = None
    source_name: str | None = None
    first: date | None = None
    last: date | None = None
    spans: tuple[Span, ...] = ()
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MarkVerdict:
    """A mark, kept as typed, with its readings, what it did to the result and how it fits."""

    mark: Mark
    readings: tuple[WeighedReading, ...]
    influence_bits: float
    conflict: float | None
    weighed: bool = True


@dataclass(frozen=True, slots=True)
class ConflictSet:
    marks: tuple[int, ...]
    p_all_right: float
    says: str


@dataclass(frozen=True, slots=True)
class Unstable:
    """``assumption`` times ``factor`` changes ``what``."""

    assumption: str
    factor: float
    what: str


@dataclass(frozen=True, slots=True)
class NextCheck:
    """A look worth making. ``gain_bits`` already counts the chance of a legible mark;
    ``then_bits``: the same with the best second look after it."""

    check: str
    title: str
    part: str
    level: str
    minutes: float
    gain_bits: float
    bits_per_minute: float
    settles: str
    caution: str = ""
    then_bits: float | None = None
    then: str | None = None
    setup_minutes: float = 0.0  # once, to get to that level at all


@dataclass(frozen=True, slots=True)
class Sentence:
    """A plain sentence, the marks it rests on and the numbers it says (path -> value)."""

    text: str
    marks: tuple[int, ...]
    numbers: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Verdict:
    """Everything computed about one dossier."""

    dossier: str
    file: str
    endbell: str
    as_of: str
    packs: tuple[PackStamp, ...]
    assumptions: Mapping[str, float]
    build: BuildDate
    log_evidence: float
    models: tuple[ModelOdds, ...]
    parts: tuple[PartVerdict, ...]
    deliveries: tuple[DeliveryVerdict, ...]
    assemblies: tuple[AssemblyVerdict, ...]
    claimed: Claim
    claim: ClaimVerdict | None
    marks: tuple[MarkVerdict, ...]
    conflicts: tuple[ConflictSet, ...]
    stable: bool
    unstable: tuple[Unstable, ...]
    next: tuple[NextCheck, ...]
    next_says: str
    words: tuple[Sentence, ...]
    cautions: tuple[str, ...]
    not_weighed: tuple[Problem, ...]
    notes: tuple[str, ...] = field(default=())
