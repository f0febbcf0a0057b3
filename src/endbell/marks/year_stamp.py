"""Year stamps: a stamp whose last two digits are the year; what stands in front is kept."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from .calendar import year_days
from .errors import TextError
from .likelihood import digit_vector, doubtful
from .outcome import as_digits, misfit, settled, shown
from .tables import CodeGrammar, Tables
from .text import UNCLEAR, Cell, CellText, cut
from .types import MarkReading, Reading, Seen, Span

KIND = "year-stamp"
WORDS = "a stamp whose last two digits are the year"

_Pair = tuple[Cell | None, Cell | None]


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a year stamp: ``dating`` is 'dated', one reading a year of the hundred that fit.

    >>> from endbell.marks.tables import CodeGrammar, LetterDates
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}))
    >>> reading = read(Seen(KIND, "5 0364"), tables).readings[0]
    >>> reading.label, reading.facts
    ('1964', (('in front', '5 03'),))
    """
    early = settled(seen)
    if early:
        return early
    accepted = f"two digits of the year at the end; {UNCLEAR}"
    try:
        cut_text = cut(seen.text, tables.grammar.separators)
    except TextError as error:
        return misfit(seen, error.found, error.accepted)
    found: dict[int, float] = {}
    chosen: _Pair | None = None
    for weight, pair in _year_cells(cut_text, tables.grammar):
        if any(cell is not None and not cell.is_digit for cell in pair):
            continue
        tens, ones = (digit_vector(cell, seen.legibility, tables) for cell in pair)
        for year in range(tables.grammar.first_year, tables.grammar.first_year + 100):
            p = weight * tens[year // 10 % 10] * ones[year % 10]
            if p > 0:
                found[year] = found.get(year, 0.0) + p
        chosen = chosen or pair
    if not found or chosen is None:
        guess = as_digits(seen.text, tables)
        nearest = [guess] if guess != seen.text and guess[-2:].isdecimal() else []
        return misfit(seen, f"no year at the end of {shown(seen.text)}", accepted, nearest)
    total = sum(found.values())
    facts, spans = _front(seen.text, chosen, seen.legibility)
    readings = [
        Reading(p / total, str(year), *year_days(year), facts=facts, spans=spans)
        for year, p in sorted(found.items(), key=lambda item: (-item[1], item[0]))
    ]
    first = tables.grammar.first_year
    scheme = (date(first, 1, 1), date(first + 99, 12, 31))
    return MarkReading(
        seen.kind, seen.text, seen.legibility, "dated", readings=tuple(readings), scheme=scheme
    )


def _year_cells(cut_text: CellText, grammar: CodeGrammar) -> Iterator[tuple[float, _Pair]]:
    """Yield (weight, tens and ones) for every place that the year's two digits may stand at."""
    cells: list[Cell | None] = list(cut_text.cells)
    if not cells:
        return
    if cut_text.lost_after:
        # one digit lost: the last cell is the tens; more lost: neither digit is left
        yield 1.0 - grammar.lost_ratio, (cells[-1], None)
        yield grammar.lost_ratio, (None, None)
        return
    if cut_text.lost_before and len(cells) == 1:
        cells = [None, *cells]
    stray = cut_text.cells[-1].kind == "unread"
    kept_p = 1.0 - grammar.stray_end if stray else 1.0
    for left_out, weight in ((0, kept_p), (1, grammar.stray_end)):
        kept = cells[: len(cells) - left_out]
        split = len(cut_text.cells) - left_out - 1 in cut_text.breaks
        if (left_out and not stray) or len(kept) < 2 or split:
            continue
        yield weight, (kept[-2], kept[-1])


def _front(
    text: str, pair: _Pair, legibility: str
) -> tuple[tuple[tuple[str, str], ...], tuple[Span, ...]]:
    kept = [cell for cell in pair if cell is not None]
    if not kept:
        return (), ()
    front = text[: kept[0].start].strip()
    span = Span(kept[0].start, kept[-1].end, "year", doubtful(pair, legibility))
    return ((("in front", front),) if front else ()), (span,)
