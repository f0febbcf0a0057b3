"""Serial numbers: a prefix and a number that ranges of a pack place in time."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from itertools import pairwise
from math import ceil, sqrt

from .calendar import iso_week_of, week_label
from .errors import TextError
from .likelihood import digit_vector, doubtful, likelihoods, weight_below
from .outcome import few, misfit, settled, shown
from .tables import SerialRange, Tables
from .text import UNCLEAR, Cell, CellText, Fit, cut, fits
from .types import MarkReading, Reading, Seen, Span, Vector

KIND = "serial"
WORDS = "a serial number as stamped, placed by the maker's ranges"

_NEGLIGIBLE = 1e-9
_BLOCKS_A_SPREAD = 2
_MOST_BLOCKS = 120


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a serial by every range of the maker (``seen.schemes``; empty: all ranges).

    ``dating`` is 'serial': ``first`` = ``last`` = the day that a straight line through the range
    gives, ``spread_weeks`` the range's own spread.  Where digits are unclear the range is cut into
    blocks of numbers no longer than half its spread, each with the weight of the numbers in it that
    the text could show.  Every number of every range is equally likely beforehand.  Misfit: no
    range holds it.

    >>> from datetime import date
    >>> from endbell.marks.tables import CodeGrammar, LetterDates
    >>> row = SerialRange("demo", "A", 1001, 2001, date(1963, 1, 1), date(1963, 12, 31), 6.0)
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}), serials=(row,))
    >>> [(r.label, r.first, r.p) for r in read(Seen(KIND, "A 1501"), tables).readings]
    [('1963-W27', datetime.date(1963, 7, 2), 1.0)]
    """
    early = settled(seen)
    if early:
        return early
    ranges = [r for r in tables.serials if not seen.schemes or r.id in seen.schemes]
    if not ranges:
        return misfit(seen, "no serial numbers known", "a pack with this maker's serial numbers")
    try:
        cut_text = cut(seen.text, tables.grammar.separators + ",")
    except TextError as error:
        return misfit(seen, error.found, error.accepted)
    weighed = [
        reading
        for row in ranges
        for fit in _layings(cut_text, row, tables)
        for reading in _placed(fit, row, seen.legibility, tables)
    ]
    total = sum(reading.p for reading in weighed)
    if total <= 0.0:
        accepted = few([_range_words(row) for row in ranges], 6) + f"; {UNCLEAR}"
        return misfit(seen, f"{shown(seen.text)} is in no range", accepted)
    readings = [_scaled(r, total) for r in weighed if r.p > total * _NEGLIGIBLE]
    left = sum(reading.p for reading in readings)
    return MarkReading(
        seen.kind,
        seen.text,
        seen.legibility,
        "serial",
        readings=tuple(sorted((_scaled(r, left) for r in readings), key=lambda r: (-r.p, r.label))),
        scheme=(min(row.first for row in ranges), max(row.last for row in ranges)),
    )


def _layings(cut_text: CellText, row: SerialRange, tables: Tables) -> list[Fit]:
    """Ways to lay the text on prefix + number; with lost characters, of the range's own length."""
    prefix = len(_prefix(row, tables))
    if cut_text.lost_before or cut_text.lost_after:
        widths = range(len(str(row.first_number)), len(str(row.last_number)) + 1)
    else:
        widths = range(1, len(cut_text.cells) - prefix + 1)
    return [fit for width in widths for fit in fits(cut_text, prefix + width, tables.grammar)]


def _placed(fit: Fit, row: SerialRange, legibility: str, tables: Tables) -> list[Reading]:
    prefix = _prefix(row, tables)
    p = fit.weight
    for letter, cell in zip(prefix, fit.places, strict=False):
        p *= likelihoods(cell, letter, legibility, tables)[0]
    number = fit.places[len(prefix) :]
    if p <= 0.0 or any(cell is not None and not cell.is_digit for cell in number):
        return []
    vectors = [digit_vector(cell, legibility, tables) for cell in number]
    spans = _spans(fit.places, len(prefix), legibility)
    low, high = row.first_number, row.last_number
    exact = _exact(vectors)
    if exact is not None:
        return [_reading(row, p, exact, exact, spans)] if low <= exact <= high else []
    found: list[Reading] = []
    below = weight_below(vectors, low)
    for start, end in _blocks(row):
        upto = weight_below(vectors, end + 1)
        if upto - below > 0.0:
            found.append(_reading(row, p * (upto - below), start, end, spans))
        below = upto
    return found


def _exact(vectors: Sequence[Vector]) -> int | None:
    """The number, where every digit can only be one."""
    digits = ""
    for vector in vectors:
        sure = [str(digit) for digit, p in enumerate(vector) if p > 0]
        if len(sure) != 1 or vector[int(sure[0])] != 1.0:
            return None
        digits += sure[0]
    return int(digits)


def _blocks(row: SerialRange) -> list[tuple[int, int]]:
    numbers = row.last_number - row.first_number + 1
    weeks = max(1.0, (row.last - row.first).days / 7)
    wanted = ceil(_BLOCKS_A_SPREAD * weeks / max(row.spread_weeks, 1.0))
    count = max(1, min(numbers, wanted, _MOST_BLOCKS))
    edges = [row.first_number + numbers * i // count for i in range(count + 1)]
    return [(start, end - 1) for start, end in pairwise(edges)]


def _reading(row: SerialRange, p: float, start: int, end: int, spans: tuple[Span, ...]) -> Reading:
    middle = (_day_number(row, start) + _day_number(row, end)) / 2
    width = (_day_number(row, end) - _day_number(row, start)) / 7
    day = row.first + timedelta(days=round(middle))
    number = str(start) if start == end else f"{start}..{end}"
    return Reading(
        p,
        week_label(*iso_week_of(day)),
        day,
        day,
        facts=(("range", row.id), ("number", number)),
        spans=spans,
        # numbers spread evenly over a block add its variance, width squared over twelve
        spread_weeks=sqrt(row.spread_weeks**2 + width**2 / 12),
    )


def _day_number(row: SerialRange, number: int) -> float:
    """Days after ``row.first`` at which the straight line reaches this number."""
    numbers = row.last_number - row.first_number
    days = (row.last - row.first).days
    return days * (number - row.first_number) / numbers if numbers else days / 2


def _scaled(reading: Reading, total: float) -> Reading:
    return Reading(
        reading.p / total,
        reading.label,
        reading.first,
        reading.last,
        facts=reading.facts,
        spans=reading.spans,
        spread_weeks=reading.spread_weeks,
    )


def _prefix(row: SerialRange, tables: Tables) -> str:
    skipped = tables.grammar.separators + ","
    return "".join(c for c in row.prefix.upper() if c not in skipped)


def _spans(places: Sequence[Cell | None], prefix: int, legibility: str) -> tuple[Span, ...]:
    spans: list[Span] = []
    for group, cells in (("prefix", places[:prefix]), ("number", places[prefix:])):
        kept = [cell for cell in cells if cell is not None]
        if kept:
            spans.append(Span(kept[0].start, kept[-1].end, group, doubtful(cells, legibility)))
    return tuple(spans)


def _range_words(row: SerialRange) -> str:
    return (
        f"{row.prefix}{row.first_number} to {row.prefix}{row.last_number} "
        f"({row.first.year}–{row.last.year})"
    )
