"""What is said of the causes of a sheet, and of what to measure next."""

from __future__ import annotations

from dataclasses import dataclass

from ..stages import Stage


@dataclass(frozen=True, slots=True)
class Cause:
    """A fault with its probability.

    ``p``: that it is present, alone or beside one other.  ``prior``: the same before any line was
    looked at, for this amp.  ``at``: places whose lines speak for it.  ``speaks_for`` and
    ``speaks_against``: sentences, strongest first.  ``says``: all of it in a few sentences.
    """

    fault: str
    title: str
    p: float
    prior: float
    at: tuple[str, ...] = ()
    says: str = ""
    speaks_for: tuple[str, ...] = ()
    speaks_against: tuple[str, ...] = ()
    remedy: str = ""
    age: str = ""
    source: str = ""
    confidence: str = ""


@dataclass(frozen=True, slots=True)
class NextMeasurement:
    """A measurement that may be made now. ``gain_bits``: expected information about which faults
    there are; ``settles``: what it would do to the likeliest; ``caution``: never empty where mains
    is on."""

    line: str
    at: str
    title: str
    stage: Stage
    minutes: float
    gain_bits: float
    bits_per_minute: float
    settles: str
    says: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """The causes of a sheet.

    ``causes``: likeliest first.  ``settled``: faults that one look settles, found and set aside.
    ``no_fault``, ``one_fault``, ``two_faults``: how many faults there are beside those, at most two
    by assumption; ``unlisted``: something that is not in the list
    is among them; ``beyond``: share of amps that would have more than two by the same rates, which
    the sum leaves out.  ``likeliest``: the likeliest set of faults with its probability.
    ``unexplained``: lines that are off and that no fault of the list speaks to.
    """

    causes: tuple[Cause, ...]
    next: tuple[NextMeasurement, ...]
    no_fault: float
    one_fault: float
    two_faults: float
    unlisted: float
    beyond: float
    likeliest: tuple[str, ...]
    likeliest_p: float
    says: str
    settled: tuple[str, ...] = ()
    unexplained: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
