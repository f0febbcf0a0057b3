"""Codes made of digits: the ways to cut them into source, year and week, and how to mend them.

Shared by the source-and-date code and the plain year-and-week code.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from .likelihood import DIGITS, digit_vector, doubtful, slip
from .likely_readings import week_values
from .tables import CodeShape, Tables
from .text import Cell, CellText, Fit, fits
from .types import Span, Split

_GROUPS = ("source", "year", "week")


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
            if not week_values(week, grammar):
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


def corrections(cut_text: CellText, reads: Callable[[str], bool], tables: Tables) -> list[str]:
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
