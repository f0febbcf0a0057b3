"""Date codes without a source: year and week (YYWW), and the letter codes of IEC 60062.

Four digits are the year's last two and the week.  Three digits are read as the year's last one and
the week.  Two characters are the year's letter (several years each, by the cycle) and the month's.
"""

from __future__ import annotations

from .calendar import month_days
from .digit_codes import corrections, is_digit_text, not_digits, splits_of
from .errors import TextError
from .likelihood import DIGITS, doubtful, likelihoods, slip
from .likely_readings import has_reading, likely_readings
from .outcome import as_digits, few, misfit, settled, shown
from .tables import CodeShape, Tables
from .text import UNCLEAR, Cell, CellText, cut
from .types import LateReadings, MarkReading, Reading, Seen, Span, Vector

KIND = "date-code"
WORDS = "year and week (YYWW), or the two-character letter code of IEC 60062"

_SHAPES = (CodeShape(0, 2), CodeShape(0, 1))
_WEEK_FORM = "YYWW with week 01 to 53"


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a date code: digits as 'week-code' with an empty source, letters as 'dated' months.

    The letter O and the figure 0 are one glyph where only one of them has a meaning.

    >>> from endbell.marks.tables import CodeGrammar, LetterDates
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> tables = Tables({}, {}, grammar, LetterDates({"R": (1983, 2003)}, {"O": 10}))
    >>> [r.label for r in read(Seen(KIND, "RO"), tables).readings]
    ['1983-10', '2003-10']
    >>> [r.label for r in read(Seen(KIND, "7403"), tables).readings]
    ['1974-W03']
    """
    early = settled(seen)
    if early:
        return early
    try:
        cut_text = cut(seen.text, tables.grammar.separators)
    except TextError as error:
        return misfit(seen, error.found, error.accepted)
    if not cut_text.cells:
        return misfit(seen, "no character that was read", UNCLEAR + "; else 'illegible'")
    if _looks_lettered(cut_text):
        return _letters(seen, cut_text, tables)
    return _digits(seen, cut_text, tables)


def _looks_lettered(cut_text: CellText) -> bool:
    if len(cut_text.cells) == 2 and not (cut_text.lost_before or cut_text.lost_after):
        return True
    return len(cut_text.cells) == 1 and not is_digit_text(cut_text)


def _digits(seen: Seen, cut_text: CellText, tables: Tables) -> MarkReading:
    accepted = f"{_WEEK_FORM}, or a year letter and a month character; {UNCLEAR}"
    if not is_digit_text(cut_text):
        guess = as_digits(seen.text, tables)
        return misfit(
            seen,
            f"{not_digits(cut_text)} in {shown(seen.text)}",
            accepted,
            [guess] if _reads(guess, tables) else (),
        )
    splits = splits_of(cut_text, _SHAPES, seen.legibility, tables)
    if not any(has_reading(split, tables.grammar) for split in splits):
        nearest = corrections(cut_text, lambda text: _reads(text, tables), tables)
        return misfit(seen, f"{shown(seen.text)} is no year and week", accepted, nearest)
    readings = LateReadings(lambda: likely_readings(splits, tables, None, seen.legibility))
    flags = ()
    if all(len(split.year) == 1 for split in splits):
        flags = ("three digits: read as the last digit of the year and the week",)
    return MarkReading(
        seen.kind, seen.text, seen.legibility, "week-code", splits, readings, flags=flags
    )


def _reads(text: str, tables: Tables) -> bool:
    try:
        cut_text = cut(text, tables.grammar.separators)
    except TextError:
        return False
    return is_digit_text(cut_text) and bool(splits_of(cut_text, _SHAPES, "clear", tables))


def _letters(seen: Seen, cut_text: CellText, tables: Tables) -> MarkReading:
    table = tables.letter_dates
    year_keys, month_keys = tuple(table.years), tuple(table.months)
    cells: list[Cell | None] = list(cut_text.cells)
    if len(cells) == 1:  # one of the two is lost, at whichever end was said
        if cut_text.lost_before == cut_text.lost_after:
            return misfit(seen, f"one character, {shown(seen.text)}", _form(year_keys, month_keys))
        cells = [None, *cells] if cut_text.lost_before else [*cells, None]
    year_p = _key_likelihoods(cells[0], year_keys, seen.legibility, tables)
    month_p = _key_likelihoods(cells[1], month_keys, seen.legibility, tables)
    total = sum(p * len(table.years[key]) for p, key in zip(year_p, year_keys, strict=True)) * sum(
        month_p
    )
    if total <= 0.0 or not _alphabetic(cells, year_keys, month_keys):
        nearest = _near_letters(cut_text, year_keys, month_keys, tables)
        return misfit(
            seen, f"{shown(seen.text)} has no meaning", _form(year_keys, month_keys), nearest
        )
    spans = tuple(
        Span(cell.start, cell.end, group, doubtful([cell], seen.legibility))
        for cell, group in zip(cells, ("year", "month"), strict=True)
        if cell is not None
    )
    dated = sorted(
        (year, table.months[month], p_year * p_month / total)
        for p_year, letter in zip(year_p, year_keys, strict=True)
        for p_month, month in zip(month_p, month_keys, strict=True)
        for year in table.years[letter]
        if p_year * p_month > 0
    )
    readings = [
        Reading(p, f"{year}-{month:02d}", *month_days(year, month), spans=spans)
        for year, month, p in dated
    ]
    readings.sort(key=lambda reading: -reading.p)
    years = [year for cycle in table.years.values() for year in cycle]
    scheme = (month_days(min(years), 1)[0], month_days(max(years), 12)[1])
    return MarkReading(
        seen.kind, seen.text, seen.legibility, "dated", readings=tuple(readings), scheme=scheme
    )


def _key_likelihoods(
    cell: Cell | None, keys: tuple[str, ...], legibility: str, tables: Tables
) -> Vector:
    if cell is not None and cell.kind == "plain" and cell.chars in "0O" and cell.chars not in keys:
        twin = "O" if cell.chars == "0" else "0"
        cell = Cell(cell.start, cell.end, "plain", twin)
    return likelihoods(cell, keys, legibility, tables)


def _alphabetic(
    cells: list[Cell | None], year_keys: tuple[str, ...], month_keys: tuple[str, ...]
) -> bool:
    """Whether each place is of a sort (letter, digit) that its group has at all."""
    for cell, keys in zip(cells, (year_keys, month_keys), strict=True):
        if cell is None or cell.kind == "unread":
            continue
        sorts = {key in DIGITS for key in keys}
        if not any((c in DIGITS) in sorts or c in "0O" for c in cell.chars):
            return False
    return True


def _near_letters(
    cut_text: CellText, year_keys: tuple[str, ...], month_keys: tuple[str, ...], tables: Tables
) -> list[str]:
    """Codes that differ in one character, the likeliest slip (I for 1, B for 8) first."""
    if len(cut_text.cells) != 2 or not all(c.kind == "plain" for c in cut_text.cells):
        return []
    year, month = (cell.chars for cell in cut_text.cells)
    near = [(-slip(year, y, tables), y + month) for y in year_keys if month in month_keys]
    near += [(-slip(month, m, tables), year + m) for m in month_keys if year in year_keys]
    return [text for _, text in sorted(near)]


def _form(year_keys: tuple[str, ...], month_keys: tuple[str, ...]) -> str:
    return (
        f"{_WEEK_FORM}, or a year letter ({few(year_keys, 30)}) "
        f"and a month character ({few(month_keys, 12)})"
    )
