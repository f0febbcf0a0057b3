"""The source-and-date code: who made the part, the year (one or two digits) and the week.

Three digits of source are the rule, four came later; one year digit leaves the decade open.
"""

from __future__ import annotations

from .digit_codes import corrections, is_digit_text, not_digits, splits_of
from .errors import TextError
from .likely_readings import has_reading, likely_readings
from .outcome import as_digits, misfit, settled, shown
from .tables import Tables
from .text import UNCLEAR, CellText, cut
from .types import LateReadings, MarkReading, Seen

KIND = "source-date-code"
WORDS = "source number, last one or two digits of the year, week, as stamped on parts"


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a source-and-date code into every way to cut it, with its likeliest full readings.

    ``dating`` is 'week-code'.  Misfit: a text that no code of the grammar can show.

    >>> from endbell.marks.tables import CodeGrammar, CodeShape, LetterDates
    >>> grammar = CodeGrammar(
    ...     (CodeShape(3, 1), CodeShape(3, 2), CodeShape(4, 1)),
    ...     choice_slack=0.02,
    ...     lost_ratio=0.5,
    ...     stray_end=0.1,
    ...     separators=" -./",
    ... )
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}))
    >>> reading = read(Seen(KIND, "993-348"), tables)
    >>> [(r.source, r.label, round(r.p, 9)) for r in reading.readings][3]
    ('993', '1963-W48', 0.1)
    >>> read(Seen(KIND, "993-354"), tables).misfit.found
    "no week from 01 to 53 in '993-354'"
    """
    early = settled(seen)
    if early:
        return early
    separators = tables.grammar.separators
    try:
        cut_text = cut(seen.text, separators)
    except TextError as error:
        return misfit(seen, error.found, error.accepted)
    if not cut_text.cells:
        return misfit(seen, "no character that was read", UNCLEAR + "; else 'illegible'")
    if not is_digit_text(cut_text):
        guess = as_digits(seen.text, tables)
        return misfit(
            seen,
            f"{not_digits(cut_text)} in {shown(seen.text)}",
            "digits, " + UNCLEAR,
            [guess] if _reads(guess, tables) else (),
        )
    splits = splits_of(cut_text, tables.grammar.shapes, seen.legibility, tables)
    if not any(has_reading(split, tables.grammar) for split in splits):
        return _no_code(seen, cut_text, tables)
    since = tables.grammar.scheme_from
    readings = LateReadings(lambda: likely_readings(splits, tables, since, seen.legibility))
    return MarkReading(
        seen.kind, seen.text, seen.legibility, "week-code", splits=splits, readings=readings
    )


def _reads(text: str, tables: Tables) -> bool:
    try:
        cut_text = cut(text, tables.grammar.separators)
    except TextError:
        return False
    return is_digit_text(cut_text) and bool(
        splits_of(cut_text, tables.grammar.shapes, "clear", tables)
    )


def _no_code(seen: Seen, cut_text: CellText, tables: Tables) -> MarkReading:
    """Say which of length, separators and week is at fault, and offer what would read."""
    grammar = tables.grammar
    lay_outs = ", ".join(
        f"{s.source_digits}+{s.year_digits}+{s.week_digits}" for s in grammar.shapes
    )
    weeks = f"{grammar.first_week:02d} to {grammar.last_week:02d}"
    accepted = f"source + year + week of {lay_outs} digits, week {weeks}"
    joined = CellText(cut_text.text, cut_text.cells, frozenset(), *_lost(cut_text))
    if cut_text.breaks and splits_of(joined, grammar.shapes, seen.legibility, tables):
        text = "".join(cut_text.text[c.start : c.end] for c in cut_text.cells)
        return misfit(
            seen,
            f"the separators in {shown(seen.text)} part no source, year and week",
            accepted + "; a separator ends a group",
            [text] if _reads(text, tables) else (),
        )
    nearest = corrections(cut_text, lambda text: _reads(text, tables), tables)
    lengths = sorted({s.source_digits + s.year_digits + s.week_digits for s in grammar.shapes})
    count = len(cut_text.cells)
    if count > lengths[-1] or (cut_text.certain and count not in lengths):
        return misfit(
            seen,
            f"{count} digit{'s' * (count != 1)}",
            accepted + "; write ... at an end where characters are lost",
            nearest,
        )
    return misfit(seen, f"no week from {weeks} in {shown(seen.text)}", accepted, nearest)


def _lost(cut_text: CellText) -> tuple[bool, bool]:
    return cut_text.lost_before, cut_text.lost_after
