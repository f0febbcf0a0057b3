"""A line of a bench sheet: what can be measured or worked out, and what came of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from .stages import Stage


class Judgement(StrEnum):
    """What is said of a line. Only ``WITHIN`` passes; silence never does."""

    WITHIN = "within"
    LOW = "low"
    HIGH = "high"
    ODD = "odd"  # off in a way that is neither low nor high: swapped, unbalanced, flagged
    CHECK = "check the standard"  # the only limit there is stands from memory
    NO_LIMIT = "no limit"  # worked out and shown; nothing to hold it against
    IMPOSSIBLE = "cannot be"  # no amp gives this: swapped probes, a wrong unit, a slip
    NOT_MEASURED = "not measured"


OFF = (Judgement.LOW, Judgement.HIGH, Judgement.ODD, Judgement.IMPOSSIBLE)
"""What has to be looked into."""

SIGNS: Mapping[Judgement, str] = {
    Judgement.WITHIN: "✓",
    Judgement.LOW: "▼",
    Judgement.HIGH: "▲",
    Judgement.ODD: "◆",
    Judgement.IMPOSSIBLE: "✗",
    Judgement.CHECK: "?",
    Judgement.NO_LIMIT: "·",
    Judgement.NOT_MEASURED: "◌",
}
"""A sign beside each word: no judgement is told by a colour alone."""


@dataclass(frozen=True, slots=True)
class LineKind:
    """A kind of line, a row of ``data/lines/*.csv``.

    ``unit``: SI symbol in which values of this line are kept ('V', 'A', 'ohm', 's', 'W', 'F', 'H',
    'Hz', 'dB', '1').  ``lowest``/``highest``: what is possible at all, in that unit; beyond lies a
    wrong unit or a slip.  ``needs``: ids of lines that must have passed before this one is shown.
    ``powered``: whether mains is on while it is measured.  ``measured``: whether a person reads it
    off a meter (else it follows from others).  ``per``: what it is measured at ('', 'valve',
    'winding', 'capacitor', 'resistor', 'rail', 'pot', 'stage', 'tap', 'loudspeaker').
    """

    id: str
    title: str
    stage: Stage
    unit: str
    lowest: float
    highest: float
    powered: bool = False
    measured: bool = True
    per: str = ""
    needs: tuple[str, ...] = ()
    minutes: float = 1.0
    how: str = ""
    caution: str = ""
    source: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class Bound:
    """One limit held against a line: in the line's SI unit, with where it comes from.

    ``confidence``: 'published', 'common practice, no source', 'from memory', 'invented world',
    'computed'.  A bound from memory never passes a line by itself: it reads 'check the standard'.
    """

    low: float | None
    high: float | None
    title: str
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a computed sheet.

    ``value``: in ``unit`` (SI), None where nothing was measured.  ``spread``: one standard
    deviation of what the value should be by the tolerances of the parts around it, where that is
    known: 'off' means off by more than the bound, which already holds it.  ``expected``: nominal
    value, if any.  ``says``: one sentence for the technician.  ``works``: how the value was worked
    out, with its formula's source.  ``readings``: numbers of the sheet's readings it rests on.
    """

    id: str
    title: str
    stage: Stage
    unit: str
    value: float | None
    judgement: Judgement
    at: str = ""
    expected: float | None = None
    spread: float | None = None
    bounds: tuple[Bound, ...] = ()
    says: str = ""
    works: str = ""
    readings: tuple[int, ...] = ()
    caution: str = ""


def judged(value: float | None, bounds: tuple[Bound, ...]) -> Judgement:
    """What ``bounds`` say of ``value``: the strictest that is broken, else within.

    A bound that stands from memory can neither pass nor fail: within it (or outside it) the answer
    is 'check the standard', unless a bound with a source already fails the value.
    """
    if value is None:
        return Judgement.NOT_MEASURED
    known = [bound for bound in bounds if bound.confidence != "from memory"]
    for bound in known:
        if bound.low is not None and value < bound.low:
            return Judgement.LOW
        if bound.high is not None and value > bound.high:
            return Judgement.HIGH
    if known and len(known) == len(bounds):
        return Judgement.WITHIN
    if not bounds:
        return Judgement.NO_LIMIT
    if known and all(_holds(value, bound) for bound in bounds):
        return Judgement.WITHIN
    return Judgement.CHECK


def _holds(value: float, bound: Bound) -> bool:
    low = bound.low is None or value >= bound.low
    return low and (bound.high is None or value <= bound.high)
