"""The tables that readers are given: grammar, confusion, schemes.  Packs fill them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from .types import Vector


@dataclass(frozen=True, slots=True)
class Confusion:
    """P(seen | true) for one legibility and one alphabet: ``rows[true][seen]``; rows sum to one."""

    alphabet: str
    rows: tuple[Vector, ...]


@dataclass(frozen=True, slots=True)
class CodeShape:
    """A lay-out of the source-and-date code: how many digits of source, year and week."""

    source_digits: int
    year_digits: int
    week_digits: int = 2


def _source_length_share() -> dict[int, float]:
    return {2: 0.005, 3: 0.97, 4: 0.03}


def _look_alikes() -> dict[str, str]:
    return {"O": "0", "Q": "0", "I": "1", "L": "1", "Z": "2", "S": "5", "G": "6", "B": "8"}


@dataclass(frozen=True, slots=True)
class CodeGrammar:
    """Grammar of digit codes.

    ``choice_slack``: what ``[38]`` leaves to the digits not named (0.02).  ``lost_ratio``: q of the
    geometric number of lost characters, P(n) = (1-q) q^(n-1), n >= 1.  ``stray_end``: chance that
    an unreadable character at an end is no character of the code.  ``separators``: the characters
    that end a group.  ``source_length_share``: share of all source numbers by their number of
    digits; the numbers of one length share it equally.  ``first_year``..``last_year``: the years
    that one year digit is read in; two digits are read up to ``last_two_digit_year``.
    ``scheme_from``: first year of the source-and-date code.  ``look_alikes``: letter -> the digit
    it is mistaken for, only ever used to offer a correction.  ``year_first``: share of hand dates
    of three two-digit numbers that have the year in front; day and month share the rest equally.
    """

    shapes: tuple[CodeShape, ...]
    choice_slack: float
    lost_ratio: float
    stray_end: float
    separators: str
    first_week: int = 1
    last_week: int = 53
    source_length_share: Mapping[int, float] = field(default_factory=_source_length_share)
    first_year: int = 1930
    last_year: int = 2029
    last_two_digit_year: int = 2049
    scheme_from: int = 1945
    look_alikes: Mapping[str, str] = field(default_factory=_look_alikes)
    year_first: float = 0.02


@dataclass(frozen=True, slots=True)
class LetterDates:
    """IEC 60062 two-character date code: year letters (several years each), month characters."""

    years: Mapping[str, tuple[int, ...]]
    months: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class ChartScheme:
    """A maker's chart letters: ``years[i]`` is ``first_year + i``, ``months[i]`` is month i+1.

    ``order``: 'year-month' or 'month-year', as the two letters stand.
    """

    id: str
    first_year: int
    years: str
    months: str
    order: str = "year-month"


@dataclass(frozen=True, slots=True)
class SerialRange:
    """Serials ``prefix`` + number, ``first_number`` to ``last_number``, issued between two days."""

    id: str
    prefix: str
    first_number: int
    last_number: int
    first: date
    last: date
    spread_weeks: float
    models: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Term:
    """A term on a label: any of ``patterns`` (regular expressions) dates the printing."""

    id: str
    patterns: tuple[str, ...]
    not_before: date | None
    not_after: date | None
    strictness: str
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class PatentYear:
    """First utility and first design patent number issued in a year."""

    year: int
    first_utility: int
    first_design: int


@dataclass(frozen=True, slots=True)
class DesignationScheme:
    """How a loudspeaker maker names its models: size digits, a power letter, a magnet prefix.

    ``pattern``: regular expression with the named groups it has of ``magnet``, ``size``, ``power``.
    ``powers``: letters in order; ``rising``: whether power rises along that order or falls.
    """

    id: str
    pattern: str
    magnets: Mapping[str, str]
    sizes: Mapping[str, str]
    powers: str
    rising: bool


@dataclass(frozen=True, slots=True)
class FeatureWords:
    """The values a feature may take ('absent' is always one of them)."""

    id: str
    part: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class QuantityWords:
    """A measurable quantity: its unit and the units that convert into it by a factor."""

    id: str
    unit: str
    factors: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Tables:
    """All tables together: what ``read`` is given beside the mark."""

    digits: Mapping[str, Confusion]  # by legibility
    letters: Mapping[str, Confusion]
    grammar: CodeGrammar
    letter_dates: LetterDates
    charts: tuple[ChartScheme, ...] = ()
    serials: tuple[SerialRange, ...] = ()
    terms: tuple[Term, ...] = ()
    patents: tuple[PatentYear, ...] = ()
    designations: tuple[DesignationScheme, ...] = ()
    features: Mapping[str, FeatureWords] = field(default_factory=dict[str, FeatureWords])
    quantities: Mapping[str, QuantityWords] = field(default_factory=dict[str, QuantityWords])
    conditions: tuple[str, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict[str, str])  # source number -> name
