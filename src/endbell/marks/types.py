"""The small records that every reader of marks returns.

A mark is read into *all* the things it can mean.  Codes made of digits come back in factored form
(:class:`Split`: what each character can be, given each digit), because a badly worn code has
millions of readings; every other kind comes back as a complete list of :class:`Reading`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import overload

Vector = tuple[float, ...]
"""P(character as seen | true digit), ten numbers, digit 0 first."""


@dataclass(frozen=True, slots=True)
class Span:
    """Where a group stands in the verbatim text: ``text[start:end]``.

    ``group`` is 'source', 'year', 'week', 'month', 'number', 'term', ...; ``doubtful`` says that at
    least one character in it is not certain, so that a page can underline it.
    """

    start: int
    end: int
    group: str
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class Split:
    """One way to cut a text of digits into source, year and week, in factored form.

    ``weight`` is P(the unclear ends | this shape): 1 for a text with nothing lost.  It does *not*
    hold the share of source numbers of that length, nor anything about one or two year digits.
    Each of ``source``, ``year``, ``week`` holds one :data:`Vector` a digit; characters that are
    lost (``...``) are vectors of ones.  ``source`` is empty for kinds that carry no source.
    """

    weight: float
    source: tuple[Vector, ...]
    year: tuple[Vector, ...]
    week: tuple[Vector, ...]
    spans: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing a mark can mean.

    ``p``: weight among the readings of this mark when every code of the scheme is equally likely
    beforehand; they sum to one.  ``first``/``last``: the days it covers, both included, None for an
    open end.  ``label``: how a person says it ('1963-W48', '1954-03', '1964').
    ``spread_weeks``: standard deviation round the middle, for kinds that give no sharp interval.
    """

    p: float
    label: str
    first: date | None = None
    last: date | None = None
    source: str | None = None
    facts: tuple[tuple[str, str], ...] = ()
    spans: tuple[Span, ...] = ()
    flags: tuple[str, ...] = ()
    spread_weeks: float = 0.0


class LateReadings(Sequence[Reading]):
    """Readings that are listed when somebody looks at them: a chronology needs the splits alone."""

    __slots__ = ("_list", "_listed")

    def __init__(self, listing: Callable[[], tuple[Reading, ...]]) -> None:
        self._list = listing
        self._listed: tuple[Reading, ...] | None = None

    @property
    def all(self) -> tuple[Reading, ...]:
        """Every reading that is listed."""
        if self._listed is None:
            self._listed = self._list()
        return self._listed

    @overload
    def __getitem__(self, index: int) -> Reading: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[Reading, ...]: ...
    def __getitem__(self, index: int | slice) -> Reading | tuple[Reading, ...]:
        return self.all[index]

    def __len__(self) -> int:
        return len(self.all)

    def __eq__(self, other: object) -> bool:
        if isinstance(other, LateReadings):
            return self.all == other.all
        return self.all == other

    def __hash__(self) -> int:
        return hash(self.all)

    def __repr__(self) -> str:
        return repr(self.all)


@dataclass(frozen=True, slots=True)
class TermHit:
    """A dated term found in a label's text; several can stand on one label and all count."""

    term: str
    not_before: date | None
    not_after: date | None
    strictness: str  # 'hard' | 'soft' | 'info'
    span: Span
    source: str = ""


@dataclass(frozen=True, slots=True)
class Misfit:
    """Why a text can't be weighed: what was found, what would be accepted, the nearest codes."""

    found: str
    accepted: str
    nearest: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MarkReading:
    """Everything one mark can mean.

    ``dating`` says how the chronology uses it:

    - ``'week-code'``: digits; use ``splits`` (``readings`` lists the best few for people);
    - ``'dated'``: ``readings`` are date intervals, each week belonging to one code of the scheme;
      ``scheme`` is the first and last day the scheme can say (None: everything);
    - ``'not-before'``: ``readings[i].first`` is the earliest day (patent numbers);
    - ``'terms'``: ``terms``; - ``'existed'``: ``readings[0].last`` is the day it existed by;
    - ``'serial'``: ``readings`` with ``first`` = ``last`` = expected day and ``spread_weeks``;
    - ``'value'``: a feature's value or a loudspeaker designation (``value``);
    - ``'word'``: a condition word (``value``); - ``'measured'``: ``number`` and ``uncertainty``;
    - ``'nothing'``: says nothing (illegible, not possible).
    """

    kind: str
    text: str
    legibility: str
    dating: str
    splits: tuple[Split, ...] = ()
    readings: Sequence[Reading] = ()
    terms: tuple[TermHit, ...] = ()
    scheme: tuple[date, date] | None = None
    value: str | None = None
    number: float | None = None
    uncertainty: float = 0.0
    misfit: Misfit | None = None
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Seen:
    """What was typed for one mark: the readers' only input besides the tables."""

    kind: str
    text: str = ""
    legibility: str = "clear"
    result: str = "seen"
    part_class: str = ""
    feature: str | None = None
    value: str | float | None = None
    quantity: str | None = None
    unit: str | None = None
    uncertainty: float | None = None
    date: str | None = None
    schemes: tuple[str, ...] = field(default=())  # ids of the maker's schemes to try; empty: all
