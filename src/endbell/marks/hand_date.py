"""Hand-written dates: day, month and year as somebody wrote them, in whatever order."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from .calendar import month_days, year_days
from .errors import TextError
from .hand_tokens import NAMES, Token, TokenError, month_values, number_values, tokens
from .likelihood import doubtful
from .outcome import alike, misfit, settled, shown
from .tables import Tables
from .text import UNCLEAR, Cell, CellText, cut
from .types import MarkReading, Reading, Seen, Span

KIND = "hand-date"
WORDS = "a date written by hand; day and month order open unless it can't be"

_ACCEPTED = "a date such as 3/4/64, 14 March 1964, Mar 64, 3-64, 1964-03-14 or 1964; " + UNCLEAR
_SEPARATORS = "/-. ,'’"
_MOST_LOST = 4
_MOST_READINGS = 1200
_NEGLIGIBLE = 0.01
_RIVAL = 0.05

_Key = tuple[int, int, int]  # year, month or 0, day or 0
_Order = tuple[str, ...]

# the only order of a row of words (M), four-digit numbers (4) and shorter ones (2)
_ONE_ORDER: dict[str, _Order] = {
    "422": ("year", "month", "day"),
    "4M2": ("year", "month", "day"),
    "M22": ("month", "day", "year"),
    "2M2": ("day", "month", "year"),
    "M2": ("month", "year"),
    "4M": ("year", "month"),
    "42": ("year", "month"),
    "22": ("month", "year"),
    "2": ("year",),
}


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a hand-written date: ``dating`` is 'dated', one reading a day, month or year it can be.

    Both orders of day and month are equally likely where both are dates, a two-digit year in front
    is rare.  Readings that together hold less than one percent are left out; where unclear
    digits leave more than a thousand days open the readings are months, or years.

    >>> from endbell.marks.tables import CodeGrammar, LetterDates
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators="/ ")
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}))
    >>> [(r.label, r.p) for r in read(Seen(KIND, "3/4/64"), tables).readings]
    [('1964-03-04', 0.5), ('1964-04-03', 0.5)]
    >>> [r.label for r in read(Seen(KIND, "Mar 14 '64"), tables).readings]
    ['1964-03-14']
    """
    early = settled(seen)
    if early:
        return early
    try:
        cut_text = cut(seen.text, tables.grammar.separators + _SEPARATORS)
        found, spans, order_open = _dates(cut_text, seen.legibility, tables)
    except TokenError as error:
        near = [
            seen.text[: error.start] + name.title() + seen.text[error.end :]
            for name in alike(error.word, NAMES)
        ]
        return misfit(seen, error.found, _ACCEPTED, near)
    except TextError as error:
        return misfit(seen, error.found, error.accepted)
    if not found:
        return misfit(seen, f"{shown(seen.text)} is no date", _ACCEPTED)
    total = sum(found.values())
    readings = tuple(
        Reading(p / total, *_days(key), spans=spans.get(key, ()))
        for key, p in sorted(found.items(), key=lambda item: (-item[1], item[0]))
    )
    grammar = tables.grammar
    flags = ["the order of day and month is open"] if order_open else []
    if any(_may_be_day(reading) for reading in readings):
        flags.append("the number may be a day without a year")
    return MarkReading(
        seen.kind,
        seen.text,
        seen.legibility,
        "dated",
        readings=readings,
        scheme=(date(grammar.first_year, 1, 1), date(grammar.last_year, 12, 31)),
        flags=tuple(flags),
    )


def _may_be_day(reading: Reading) -> bool:
    """Whether a month and a short number stand alone and the number could be a day ('March 12')."""
    if [span.group for span in reading.spans] != ["month", "year"]:
        return False
    year = reading.spans[1]
    return year.end - year.start == 2 and 1 <= int(reading.label[2:4]) <= 31


def _dates(
    cut_text: CellText, legibility: str, tables: Tables
) -> tuple[dict[_Key, float], dict[_Key, tuple[Span, ...]], bool]:
    """Weights and spans of the dates that matter, and whether two orders give different ones that
    do.
    """
    ways: list[_Way] = []
    for weight, cells, breaks in _completed(cut_text, tables.grammar.lost_ratio):
        for row in _repacked(tokens(cells, breaks)):
            for share, order in _orders(row, tables.grammar.year_first):
                values = _values(row, order, legibility, tables)
                ways.append(_Way(weight * share, order, *values, _spans(row, order, legibility)))
    # dates so unlikely that all of them together are left out need not be told one by one
    total = sum(w.total for w in ways)
    least = _NEGLIGIBLE * total / max(sum(w.count for w in ways), 1)
    best: dict[_Order, tuple[float, _Key]] = {}
    keys: dict[_Key, None] = {}
    for way in ways:
        for key, p in way.dates(least / len(ways)):
            keys[key] = None
            best[way.order] = max(best.get(way.order, (0.0, key)), (p, key))
    found = dict.fromkeys(keys, 0.0)
    spans: dict[_Key, tuple[Span, ...]] = {}
    for way in ways:
        for key, p in way.weights(keys):
            found[key] += p
            spans.setdefault(key, way.spans)
    heaviest = max((p for p, _ in best.values()), default=0.0)
    rivals = {key for p, key in best.values() if p > heaviest * _RIVAL}
    return _coarsened(found, total), spans, len(rivals) > 1


@dataclass(frozen=True)
class _Way:
    """One way to take the tokens: the numbers each of them can be, with their weights."""

    weight: float
    order: _Order
    years: dict[int, float]
    months: dict[int, float]
    days: dict[int, float]
    spans: tuple[Span, ...]

    @property
    def count(self) -> int:
        """How many dates it can say, at the most."""
        return len(self.years) * len(self.months) * len(self.days)

    @property
    def total(self) -> float:
        """The weight of all its dates."""
        up_to = [sum(p for day, p in self.days.items() if day <= last) for last in range(32)]
        return self.weight * sum(
            p_year * p_month * up_to[_longest(year, month)]
            for year, p_year in self.years.items()
            for month, p_month in self.months.items()
        )

    def dates(self, least: float) -> Iterator[tuple[_Key, float]]:
        """Every date that weighs at least so much."""
        days = sorted(self.days.items(), key=lambda item: -item[1])
        highest = days[0][1] if days else 0.0
        for year, p_year in self.years.items():
            for month, p_month in self.months.items():
                p = self.weight * p_year * p_month
                if p * highest < least:
                    continue
                longest = _longest(year, month)
                for day, p_day in days:
                    if p * p_day < least:
                        break
                    if day <= longest:
                        yield (year, month, day), p * p_day

    def weights(self, keys: Iterable[_Key]) -> Iterator[tuple[_Key, float]]:
        """Those of some dates that it can say, with their weights."""
        years, months, days = self.years.get, self.months.get, self.days.get
        for key in keys:
            p = years(key[0], 0.0) * months(key[1], 0.0) * days(key[2], 0.0)
            if p > 0.0:
                yield key, self.weight * p


@lru_cache(maxsize=4096)
def _longest(year: int, month: int) -> int:
    """The last day of a month, 31 where the month is not said."""
    return monthrange(year, month)[1] if month else 31


def _completed(
    cut_text: CellText, ratio: float
) -> Iterator[tuple[float, list[Cell], frozenset[int]]]:
    """Yield the cells with 1, 2, ... unread ones in place of each lost end, and their weight."""
    none = ((0, 1.0),)
    lost = tuple((n, (1 - ratio) * ratio ** (n - 1)) for n in range(1, _MOST_LOST + 1))
    for before, p_before in lost if cut_text.lost_before else none:
        for after, p_after in lost if cut_text.lost_after else none:
            head = [Cell(0, 0, "unread")] * before
            end = len(cut_text.text)
            tail = [Cell(end, end, "unread")] * after
            breaks = frozenset(index + before for index in cut_text.breaks)
            yield p_before * p_after, [*head, *cut_text.cells, *tail], breaks


def _repacked(row: list[Token]) -> Iterator[list[Token]]:
    """Yield the tokens; digits run together (140364, 19640314) as the dates they may be."""
    packed = {6: ((2, 2, 2),), 8: ((4, 2, 2), (2, 2, 4))}
    if len(row) != 1 or row[0].word or len(row[0].cells) not in packed:
        yield row
        return
    for widths in packed[len(row[0].cells)]:
        cells = list(row[0].cells)
        parts: list[Token] = []
        for width in widths:
            parts.append(Token(tuple(cells[:width]), word=False))
            del cells[:width]
        yield parts


def _orders(row: Sequence[Token], year_first: float) -> tuple[tuple[float, _Order], ...]:
    """The orders a row of tokens can stand in, with their shares."""
    sizes = "".join("M" if t.word else "4" if len(t.cells) == 4 else "2" for t in row)
    if sizes == "222":
        either = (1.0 - year_first) / 2
        return (
            (either, ("day", "month", "year")),
            (either, ("month", "day", "year")),
            (year_first, ("year", "month", "day")),
        )
    if sizes == "224":
        return (0.5, ("day", "month", "year")), (0.5, ("month", "day", "year"))
    order = _ONE_ORDER.get(sizes) or _ONE_ORDER.get(sizes.replace("4", "2"))
    return ((1.0, order),) if order else ()


def _values(
    row: Sequence[Token], order: _Order, legibility: str, tables: Tables
) -> tuple[dict[int, float], dict[int, float], dict[int, float]]:
    """The years, months and days that the tokens can be; 0: not said."""
    parts = dict(zip(order, row, strict=True))
    grammar = tables.grammar
    years = number_values(
        parts["year"], range(grammar.first_year, grammar.last_year + 1), legibility, tables, (2, 4)
    )
    months = _months(parts.get("month"), legibility, tables)
    days = {0: 1.0}
    if "day" in parts:
        days = number_values(parts["day"], range(1, 32), legibility, tables, (1, 2))
    return years, months, days


def _months(token: Token | None, legibility: str, tables: Tables) -> dict[int, float]:
    if token is None:
        return {0: 1.0}
    if token.word:
        return month_values(token, legibility, tables)
    return number_values(token, range(1, 13), legibility, tables, (1, 2))


def _coarsened(found: dict[_Key, float], total: float) -> dict[_Key, float]:
    """Leave out what is negligible; merge days into months, months into years where too many."""
    kept: dict[_Key, float] = {}
    left, last = total * (1.0 - _NEGLIGIBLE), 0.0
    for key, p in sorted(found.items(), key=lambda item: (-item[1], item[0])):
        if left <= 0.0 and p < last:  # equals are kept or left out together
            break
        kept[key] = last = p
        left -= p
    for length in (2, 1):
        if len(kept) <= _MOST_READINGS:
            break
        merged: dict[_Key, float] = {}
        for key, p in kept.items():
            coarse = (key[0], key[1] if length == 2 else 0, 0)
            merged[coarse] = merged.get(coarse, 0.0) + p
        kept = merged
    return kept


def _days(key: _Key) -> tuple[str, date, date]:
    year, month, day = key
    if day:
        found = date(year, month, day)
        return found.isoformat(), found, found
    if month:
        return f"{year}-{month:02d}", *month_days(year, month)
    return str(year), *year_days(year)


def _spans(row: Sequence[Token], order: _Order, legibility: str) -> tuple[Span, ...]:
    return tuple(
        Span(token.cells[0].start, token.cells[-1].end, group, doubtful(token.cells, legibility))
        for token, group in zip(row, order, strict=True)
        if token.cells[-1].end > token.cells[0].start
    )
