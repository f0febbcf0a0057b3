"""Chart letters: two letters on a maker's tube chart, year and month by that maker's scheme."""

from __future__ import annotations

from collections.abc import Iterator

from .calendar import month_days
from .errors import TextError
from .likelihood import doubtful, likelihoods, slip
from .outcome import misfit, settled, shown
from .tables import ChartScheme, Tables
from .text import UNCLEAR, Cell, CellText, cut, fits
from .types import MarkReading, Reading, Seen, Span

KIND = "chart-letters"
WORDS = "a year letter and a month letter by the maker's scheme"


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read chart letters by every scheme of the maker (``seen.schemes``; empty: all schemes).

    ``dating`` is 'dated', one reading a month; schemes and their months are equally likely.
    Misfit: a letter outside the scheme, with the scheme's letters in order.

    >>> from endbell.marks.tables import CodeGrammar, LetterDates
    >>> scheme = ChartScheme("demo", 1953, "ABCDEFGHIJKL", "ABCDEFGHIJKL")
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}), charts=(scheme,))
    >>> [r.label for r in read(Seen(KIND, "BC"), tables).readings]
    ['1954-03']
    """
    early = settled(seen)
    if early:
        return early
    schemes = [c for c in tables.charts if not seen.schemes or c.id in seen.schemes]
    if not schemes:
        return misfit(seen, "no chart letters known", "a pack with this maker's chart letters")
    try:
        cut_text = cut(seen.text, tables.grammar.separators)
    except TextError as error:
        return misfit(seen, error.found, error.accepted)
    accepted = _accepted(schemes)
    if not all(cell.is_letter for cell in cut_text.cells) or not cut_text.cells:
        nearest = _nearest(seen, cut_text, schemes, tables)
        return misfit(seen, f"no two letters in {shown(seen.text)}", accepted, nearest)
    readings = _readings(cut_text, schemes, seen.legibility, tables)
    if not readings:
        nearest = _nearest(seen, cut_text, schemes, tables)
        return misfit(seen, _fault(cut_text, schemes, tables), accepted, nearest)
    scheme = (
        min(month_days(s.first_year, 1)[0] for s in schemes),
        max(month_days(s.first_year + len(s.years) - 1, 12)[1] for s in schemes),
    )
    return MarkReading(
        seen.kind, seen.text, seen.legibility, "dated", readings=readings, scheme=scheme
    )


def _readings(
    cut_text: CellText, schemes: list[ChartScheme], legibility: str, tables: Tables
) -> tuple[Reading, ...]:
    found: dict[tuple[str, int, int], tuple[float, tuple[Span, ...]]] = {}
    for scheme in schemes:
        codes = len(scheme.years) * len(scheme.months)
        for fit in fits(cut_text, 2, tables.grammar):
            groups = _groups(scheme)
            cells = dict(zip(groups, fit.places, strict=True))
            spans = tuple(
                Span(cell.start, cell.end, group, doubtful([cell], legibility))
                for group, cell in cells.items()
                if cell is not None
            )
            for year, month, p in _months(scheme, cells, legibility, tables):
                key = (scheme.id, year, month)
                before = found.get(key, (0.0, spans))
                found[key] = (before[0] + fit.weight * p / codes, before[1])
    total = sum(p for p, _ in found.values())
    readings = [
        Reading(
            p / total,
            f"{year}-{month:02d}",
            *month_days(year, month),
            facts=(("scheme", scheme_id),),
            spans=spans,
        )
        for (scheme_id, year, month), (p, spans) in found.items()
    ]
    return tuple(sorted(readings, key=lambda r: (-r.p, r.label)))


def _months(
    scheme: ChartScheme, cells: dict[str, Cell | None], legibility: str, tables: Tables
) -> Iterator[tuple[int, int, float]]:
    years = likelihoods(cells["year"], scheme.years.upper(), legibility, tables)
    months = likelihoods(cells["month"], scheme.months.upper(), legibility, tables)
    for i, p_year in enumerate(years):
        for j, p_month in enumerate(months):
            if p_year * p_month > 0:
                yield scheme.first_year + i, j + 1, p_year * p_month


def _groups(scheme: ChartScheme) -> tuple[str, str]:
    return ("month", "year") if scheme.order == "month-year" else ("year", "month")


def _fault(cut_text: CellText, schemes: list[ChartScheme], tables: Tables) -> str:
    """Name the letter that no scheme has in its place, or the number of letters."""
    if len(cut_text.cells) != 2:
        return f"{len(cut_text.cells)} letter{'s' * (len(cut_text.cells) != 1)}"
    for place, cell in enumerate(cut_text.cells):
        groups = {_groups(scheme)[place] for scheme in schemes}
        letters = "".join(
            (s.years if _groups(s)[place] == "year" else s.months).upper() for s in schemes
        )
        if not any(likelihoods(cell, letters, "clear", tables)):
            written = cut_text.text[cell.start : cell.end]
            return f"{written!r} is no {' or '.join(sorted(groups))} letter of the scheme"
    return f"{shown(cut_text.text)} stands in no scheme"


def _nearest(
    seen: Seen, cut_text: CellText, schemes: list[ChartScheme], tables: Tables
) -> list[str]:
    """Texts that differ in one letter and fit, the likeliest slip first."""
    if len(cut_text.cells) != 2 or cut_text.lost_before or cut_text.lost_after:
        return []
    ranked: list[tuple[float, str]] = []
    for cell in cut_text.cells:
        if cell.kind != "plain":
            continue
        for letter in sorted({c for s in schemes for c in (s.years + s.months).upper()}):
            text = seen.text[: cell.start] + letter + seen.text[cell.end :]
            other = cut(text, tables.grammar.separators)
            if letter == cell.chars or not all(c.is_letter for c in other.cells):
                continue
            if _readings(other, schemes, "clear", tables):
                ranked.append((-slip(cell.chars, letter, tables), text))
    return [text for _, text in sorted(ranked)]


def _accepted(schemes: list[ChartScheme]) -> str:
    said = [
        f"{_groups(s)[0]} then {_groups(s)[1]}, years {' '.join(s.years)}, "
        f"months {' '.join(s.months)}"
        for s in schemes
    ]
    return "two letters: " + "; or ".join(dict.fromkeys(said)) + f"; {UNCLEAR}"
