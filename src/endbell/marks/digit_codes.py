"""Codes made of digits: the ways to cut them (splits) and what they most likely say (readings).

Shared by the source-and-date code and the plain year-and-week code.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from functools import lru_cache
from heapq import heappop, heappush
from itertools import product
from math import prod

from .calendar import (
    association_week_days,
    coded_week_days,
    january_week_days,
    week_label,
    weeks_in_year,
)
from .likelihood import DIGITS, digit_vector, doubtful, slip
from .tables import CodeGrammar, CodeShape, Tables
from .text import Cell, CellText, Fit, fits
from .types import Reading, Span, Split, Vector

MOST_READINGS = 40
MOST_WORN_READINGS = 12
OTHER = "other readings"
_GROUPS = ("source", "year", "week")
_Weighted = list[tuple[float, str]]
_Numbered = list[tuple[float, int]]
_Key = tuple[int, int, str]  # year, week, source
_WeekFacts = tuple[tuple[str, date, date], tuple[tuple[str, str], ...], tuple[str, ...]]


def splits_of(
    cut_text: CellText, shapes: Iterable[CodeShape], legibility: str, tables: Tables
) -> tuple[Split, ...]:
    """Return every way to cut the text into source, year and week that some code could show.

    A separator must stand between two groups.  Ways that leave no week between the first and the
    last, or a digit that nothing could show, are left out.
    """
    grammar = tables.grammar
    found: list[Split] = []
    vectors = [digit_vector(cell, legibility, tables) for cell in cut_text.cells]
    if not all(any(vector) for vector in vectors):
        # a place that no digit could show can only be left out, and only `?` may be
        return ()
    ones = digit_vector(None, legibility, tables)
    for shape in shapes:
        ends = (
            shape.source_digits,
            shape.source_digits + shape.year_digits,
            shape.source_digits + shape.year_digits + shape.week_digits,
        )
        for fit in fits(cut_text, ends[2], grammar):
            if not _separators_fit(cut_text, fit, ends):
                continue
            digits = [
                ones if cell is None else vectors[place - fit.offset]
                for place, cell in enumerate(fit.places)
            ]
            week = tuple(digits[ends[1] :])
            if not _week_values(week, grammar):
                continue
            found.append(
                Split(
                    fit.weight,
                    tuple(digits[: ends[0]]),
                    tuple(digits[ends[0] : ends[1]]),
                    week,
                    _spans(fit.places, ends, legibility),
                )
            )
    return tuple(found)


def likely_readings(
    splits: Sequence[Split], tables: Tables, since: int | None, limit: int
) -> tuple[Reading, ...]:
    """Return the most plausible full readings, most plausible first, ties by year and week.

    ``p``: every source number of one length shares that length's mass equally, every week of every
    year is equally likely, nothing is known of one or two year digits.  A source digit that nothing
    is known of stays ``?``.  Where there are more than ``limit`` readings the last row,
    'other readings', holds the rest, so that ``p`` sums to one.  ``since``: years before it are
    flagged.
    """
    total = 0.0
    best: dict[_Key, float] = {}
    spans: dict[_Key, tuple[Span, ...]] = {}
    lists: list[tuple[float, _Weighted, _Numbered, _Numbered]] = []
    for split in splits:
        sources = _source_values(split.source, limit)
        years = _year_values(split.year, tables.grammar)
        weeks = _week_values(split.week, tables.grammar)
        base = split.weight * _share(len(split.source), tables.grammar)
        total += (
            base
            * prod(sum(vector) for vector in split.source)
            * sum(p for p, _ in years)
            * sum(p for p, _ in weeks)
        )
        lists.append((base, sources, years, weeks))
    if total <= 0.0:
        return ()
    for weight, key, index in _best_first(lists):
        if key not in best and len(best) == limit:
            break
        best[key] = best.get(key, 0.0) + weight
        spans.setdefault(key, splits[index].spans)
    ranked = sorted(best.items(), key=lambda item: (-item[1], item[0]))
    readings = [
        _reading(key, weight / total, spans[key], tables, since) for key, weight in ranked
    ]
    rest = 1.0 - sum(best.values()) / total
    if rest > 1e-9:
        readings.append(Reading(rest, OTHER))
    return tuple(readings)


def corrections(
    cut_text: CellText, reads: Callable[[str], bool], tables: Tables
) -> list[str]:
    """Return the texts that differ from this one in one digit and read, likeliest slip first."""
    ranked: list[tuple[float, str]] = []
    text = cut_text.text
    for cell in cut_text.cells:
        if cell.kind != "plain" or cell.chars not in DIGITS:
            continue
        for digit in DIGITS:
            other = text[: cell.start] + digit + text[cell.end :]
            if digit != cell.chars and reads(other):
                ranked.append((-slip(cell.chars, digit, tables), other))
    return [other for _, other in sorted(ranked)]


def is_digit_text(cut_text: CellText) -> bool:
    """Whether every place can hold a digit."""
    return all(cell.is_digit for cell in cut_text.cells)


def not_digits(cut_text: CellText) -> str:
    """Return the characters that are not digits, for a message."""
    odd = [cut_text.text[c.start : c.end] for c in cut_text.cells if not c.is_digit]
    return ", ".join(repr(character) for character in dict.fromkeys(odd))


def _separators_fit(cut_text: CellText, fit: Fit, ends: tuple[int, int, int]) -> bool:
    for index in cut_text.breaks:
        place = index + fit.offset
        if 0 < place < ends[2] and place not in ends:
            return False
    return True


def _spans(
    places: Sequence[Cell | None], ends: tuple[int, int, int], legibility: str
) -> tuple[Span, ...]:
    spans: list[Span] = []
    start = 0
    for group, end in zip(_GROUPS, ends, strict=True):
        cells = places[start:end]
        kept = [cell for cell in cells if cell is not None]
        if kept:
            unsure = doubtful(cells, legibility)
            spans.append(Span(kept[0].start, kept[-1].end, group, unsure))
        start = end
    return tuple(spans)


def _share(source_digits: int, grammar: CodeGrammar) -> float:
    """Mass of one source number of that length; 1 for codes without a source."""
    if source_digits == 0:
        return 1.0
    return grammar.source_length_share.get(source_digits, 0.0) / 10**source_digits


def _source_values(vectors: Sequence[Vector], limit: int) -> _Weighted:
    """The ``limit`` likeliest sources; a digit of which nothing is known is ``?`` (all ten)."""
    best: _Weighted = [(1.0, "")]
    for vector in vectors:
        if min(vector) == max(vector):
            best = [(p * sum(vector), text + "?") for p, text in best]
            continue
        digits = [(q, digit) for q, digit in zip(vector, DIGITS, strict=True) if q > 0]
        best = [(p * q, text + digit) for (p, text), (q, digit) in product(best, digits)]
        best.sort(key=lambda item: (-item[0], item[1]))
        del best[limit:]
    return best


def _year_values(vectors: Sequence[Vector], grammar: CodeGrammar) -> _Numbered:
    last = grammar.last_year if len(vectors) == 1 else grammar.last_two_digit_year
    return _values(vectors, range(grammar.first_year, last + 1))


def _week_values(vectors: Sequence[Vector], grammar: CodeGrammar) -> _Numbered:
    return _values(vectors, range(grammar.first_week, grammar.last_week + 1))


@lru_cache(maxsize=4096)
def _cached_values(vectors: tuple[Vector, ...], numbers: range) -> tuple[tuple[float, int], ...]:
    ten = 10 ** len(vectors)
    found: _Numbered = []
    for number in numbers:
        digits = f"{number % ten:0{len(vectors)}d}"
        p = prod(vector[int(digit)] for vector, digit in zip(vectors, digits, strict=True))
        if p > 0.0:
            found.append((p, number))
    found.sort(key=lambda item: (-item[0], item[1]))
    return tuple(found)


def _values(vectors: Sequence[Vector], numbers: range) -> _Numbered:
    """Numbers whose last digits these vectors can show, likeliest first, ties lowest first."""
    return list(_cached_values(tuple(vectors), numbers))


def _best_first(
    lists: Sequence[tuple[float, _Weighted, _Numbered, _Numbered]],
) -> Iterator[tuple[float, _Key, int]]:
    """Yield (weight, key, split index) of all combinations, heaviest first, lazily."""
    heap: list[tuple[float, int, int, str, int, int, int, int]] = []
    met: set[tuple[int, int, int, int]] = set()

    def push(index: int, i: int, j: int, k: int) -> None:
        base, sources, years, weeks = lists[index]
        place = (index, i, j, k)
        if i >= len(sources) or j >= len(years) or k >= len(weeks) or place in met:
            return
        met.add(place)
        weight = base * sources[i][0] * years[j][0] * weeks[k][0]
        if weight > 0.0:
            heappush(heap, (-weight, years[j][1], weeks[k][1], sources[i][1], *place))

    for index in range(len(lists)):
        push(index, 0, 0, 0)
    while heap:
        weight, year, week, source, index, i, j, k = heappop(heap)
        yield -weight, (year, week, source), index
        push(index, i + 1, j, k)
        push(index, i, j + 1, k)
        push(index, i, j, k + 1)


def _reading(
    key: _Key, p: float, spans: tuple[Span, ...], tables: Tables, since: int | None
) -> Reading:
    year, week, source = key
    (label, first, last), facts, flags = _week_facts(year, week, since)
    if source in tables.sources:
        facts = (("supplier", tables.sources[source]), *facts)
    return Reading(p, label, first, last, source or None, facts, spans, flags)


@lru_cache(maxsize=16384)
def _week_facts(year: int, week: int, since: int | None) -> _WeekFacts:
    """Label and days of a week, its days by the other two conventions, and flags."""
    facts = tuple(
        (name, f"{first.isoformat()}/{last.isoformat()}")
        for name, (first, last) in (
            ("by Sunday-start weeks", association_week_days(year, week)),
            ("counted from 1 January", january_week_days(year, week)),
        )
    )
    flags: list[str] = []
    if week > weeks_in_year(year):
        flags.append(f"week {week} of a {weeks_in_year(year)}-week year")
    if since is not None and year < since:
        flags.append(f"before the scheme ({since})")
    return (week_label(year, week), *coded_week_days(year, week)), facts, tuple(flags)
