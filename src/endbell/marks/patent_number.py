"""Patent numbers: what bears one was made after the patent was issued, so not before that year."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date

from .errors import TextError
from .likelihood import digit_vector, doubtful, weight_below
from .outcome import as_digits, misfit, settled, shown
from .tables import PatentYear, Tables
from .text import UNCLEAR, Cell, cut
from .types import MarkReading, Reading, Seen, Span

KIND = "patent-number"
WORDS = "a patent number, D in front for a design"

_ACCEPTED = f"up to 8 digits with or without commas, D in front for a design; {UNCLEAR}"
_IN_FRONT = re.compile(r"(US)?(?P<design>D|DES|DESIGN)?(PAT(ENT)?)?(NO)?(?P<d>D|DES|DESIGN)?")
_LONGEST_NUMBER = 8
_NEGLIGIBLE = 1e-9


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a patent number: ``dating`` is 'not-before', one reading for every year it may be of.

    ``first`` is 1 January of the year of issue.  Numbers from before the table say nothing about
    an amplifier and come back as 'nothing', with their reading.

    >>> from endbell.marks.tables import CodeGrammar, LetterDates
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> rows = (PatentYear(1952, 2580379, 165568), PatentYear(1953, 2624046, 168527))
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}), patents=rows)
    >>> read(Seen(KIND, "2,613,753"), tables).readings[0].first
    datetime.date(1952, 1, 1)
    """
    early = settled(seen)
    if early:
        return early
    try:
        cut_text = cut(seen.text, tables.grammar.separators + ",#")
    except TextError as error:
        return misfit(seen, error.found, error.accepted)
    cells = cut_text.cells
    lead = 0
    while lead < len(cells) and cells[lead].kind == "plain" and cells[lead].is_letter:
        lead += 1
    word, number = "".join(cell.chars for cell in cells[:lead]), cells[lead:]
    front = _IN_FRONT.fullmatch(word)
    if front is None:
        return misfit(seen, f"{word!r} in front of the number", _ACCEPTED)
    if not number or any(not cell.is_digit for cell in number):
        start = number[0].start if number else len(seen.text)
        guess = as_digits(seen.text[start:], tables)
        readable = guess != seen.text[start:] and not any(map(str.isalpha, guess))
        nearest = [seen.text[:start] + guess] if readable else []
        return misfit(seen, f"{shown(seen.text)} is no patent number", _ACCEPTED, nearest)
    if cut_text.lost_before or cut_text.lost_after:
        return misfit(
            seen, "a patent number with a lost end", "every digit, with ? for each unreadable one"
        )
    if len(number) > _LONGEST_NUMBER:
        return misfit(seen, f"{len(number)} digits", _ACCEPTED)
    design = bool(front["design"] or front["d"])
    return _dated(seen, number, design, tables)


def _dated(seen: Seen, number: tuple[Cell, ...], design: bool, tables: Tables) -> MarkReading:
    first_of: Callable[[PatentYear], int] = (
        (lambda row: row.first_design) if design else (lambda row: row.first_utility)
    )
    rows = sorted((row for row in tables.patents if first_of(row) > 0), key=lambda row: row.year)
    if not rows:
        return misfit(seen, "no patent numbers known", "a pack with first patent numbers by year")
    vectors = [digit_vector(cell, seen.legibility, tables) for cell in number]
    # weight of the numbers below each year's first; differences are the years' shares
    marks = [0.0, *(weight_below(vectors, first_of(row)) for row in rows)]
    total = weight_below(vectors, 10 ** len(vectors))
    weights = [high - low for low, high in zip(marks, [*marks[1:], total], strict=True)]
    kept = [weight if weight > total * _NEGLIGIBLE else 0.0 for weight in weights]
    left = sum(kept)
    if left <= 0.0:
        return misfit(seen, f"{shown(seen.text)} is no patent number", _ACCEPTED)
    doubt = doubtful(number, seen.legibility)
    spans = (Span(number[0].start, number[-1].end, "number", doubt),)
    facts = (("sort", "design" if design else "utility"),)
    early = f"before {rows[0].year}, the first year of the table"
    readings: list[Reading] = []
    if kept[0]:
        readings.append(
            Reading(
                kept[0] / left,
                f"before {rows[0].year}",
                None,
                date(rows[0].year - 1, 12, 31),
                facts=facts,
                spans=spans,
                flags=(early,),
            )
        )
    for row, weight in zip(rows, kept[1:], strict=True):
        if weight:
            flags = ("not before the year of issue; marked for years afterwards",)
            if row is rows[-1]:
                flags = (*flags, f"issued in {row.year}, the last year of the table, or later")
            readings.append(
                Reading(
                    weight / left,
                    str(row.year),
                    date(row.year, 1, 1),
                    None,
                    facts=facts,
                    spans=spans,
                    flags=flags,
                )
            )
    readings.sort(key=lambda reading: -reading.p)
    dating = "not-before" if any(reading.first for reading in readings) else "nothing"
    return MarkReading(
        seen.kind,
        seen.text,
        seen.legibility,
        dating,
        readings=tuple(readings),
        flags=(early,) if kept[0] else (),
    )
