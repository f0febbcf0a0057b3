"""What a code made of digits most likely says: its readings, best first, for people to look at."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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
from .likelihood import DIGITS
from .tables import CodeGrammar, Tables
from .types import Reading, Span, Split, Vector

MOST_READINGS = 40
MOST_WORN_READINGS = 12
OTHER = "other readings"
_Weighted = list[tuple[float, str]]
_Numbered = list[tuple[float, int]]
_Key = tuple[int, int, str]  # year, week, source
_WeekFacts = tuple[tuple[str, date, date], tuple[tuple[str, str], ...], tuple[str, ...]]


def likely_readings(
    splits: Sequence[Split], tables: Tables, since: int | None, legibility: str
) -> tuple[Reading, ...]:
    """Return the most plausible full readings, most plausible first, ties by year and week.

    ``p``: every source number of one length shares that length's mass equally, every week of every
    year is equally likely, nothing is known of one or two year digits.  A source digit that nothing
    is known of stays ``?``.  Where there are more than 40 (12 of a worn code) the last row,
    'other readings', holds the rest, so that ``p`` sums to one.  ``since``: years before it are
    flagged.
    """
    limit = MOST_READINGS if legibility == "clear" else MOST_WORN_READINGS
    total = 0.0
    best: dict[_Key, float] = {}
    spans: dict[_Key, tuple[Span, ...]] = {}
    lists: list[tuple[float, _Weighted, _Numbered, _Numbered]] = []
    for split in splits:
        sources = _source_values(split.source, limit)
        years = _year_values(split.year, tables.grammar)
        weeks = week_values(split.week, tables.grammar)
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
        if key not in best:
            best[key] = weight
            spans[key] = splits[index].spans
    if len({len(split.source) for split in splits}) < len(splits):
        # one code can be laid on the text in several ways: count them all, however light
        best = {key: _weight_of(key, splits, tables.grammar) for key in best}
    ranked = sorted(best.items(), key=lambda item: (-item[1], item[0]))
    readings = [_reading(key, weight / total, spans[key], tables, since) for key, weight in ranked]
    rest = 1.0 - sum(best.values()) / total
    if rest > 1e-9:
        readings.append(Reading(rest, OTHER))
    return tuple(readings)


def has_reading(split: Split, grammar: CodeGrammar) -> bool:
    """Whether any code of the grammar can show this split."""
    return (
        split.weight > 0.0
        and _share(len(split.source), grammar) > 0.0
        and bool(_year_values(split.year, grammar))
        and bool(week_values(split.week, grammar))
        and all(any(vector) for vector in split.source)
    )


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


def week_values(vectors: Sequence[Vector], grammar: CodeGrammar) -> _Numbered:
    """Return (P(digits as seen | week), week) for the weeks of the grammar, likeliest first."""
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


def _weight_of(key: _Key, splits: Sequence[Split], grammar: CodeGrammar) -> float:
    year, week, source = key
    total = 0.0
    for split in splits:
        if len(split.source) != len(source):
            continue
        p = split.weight * _share(len(source), grammar)
        for vector, digit in zip(split.source, source, strict=True):
            if min(vector) == max(vector):
                p *= sum(vector) if digit == "?" else 0.0
            else:
                p *= vector[int(digit)] if digit != "?" else 0.0
        p *= _chance(_year_values(split.year, grammar), year)
        p *= _chance(week_values(split.week, grammar), week)
        total += p
    return total


def _chance(values: _Numbered, wanted: int) -> float:
    return next((p for p, number in values if number == wanted), 0.0)


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
