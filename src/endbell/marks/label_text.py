"""Label texts: wording that dates the printing of a label (postal codes, bodies' names, units)."""

from __future__ import annotations

import re
from functools import lru_cache

from .errors import TableError
from .outcome import few, misfit, settled
from .tables import Tables, Term
from .types import MarkReading, Seen, Span, TermHit

KIND = "label-text"
WORDS = "a label's wording; terms in it date the printing"

LONGEST = 2000


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Find the dated terms of a label: ``dating`` is 'terms', every term at most once.

    A term that stands on the label twice was printed once, so only its first place counts.  Upper
    and lower case matter where the term's pattern says so.  Misfit: no dated term.  Raises
    ``TableError`` for a pattern that is no regular expression.

    >>> from datetime import date
    >>> from endbell.marks.tables import CodeGrammar, LetterDates
    >>> years = date(1953, 1, 1), date(1957, 12, 31)
    >>> term = Term("retma", (r"\\bRETMA\\b",), *years, "soft", "RETMA", "")
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}), terms=(term,))
    >>> (hit,) = read(Seen(KIND, "Tested to RETMA standards"), tables).terms
    >>> hit.term, hit.span.start, hit.not_before
    ('retma', 10, datetime.date(1953, 1, 1))
    """
    early = settled(seen, longest=LONGEST, lines=True)
    if early:
        return early
    found = [hit for term in tables.terms for hit in _hits(term, seen)]
    if not found:
        words = [term.words for term in tables.terms]
        return misfit(seen, "no dated term", few(words) or "a pack with dated terms")
    found.sort(key=lambda hit: (hit.span.start, hit.term))
    return MarkReading(seen.kind, seen.text, seen.legibility, "terms", terms=tuple(found))


def _hits(term: Term, seen: Seen) -> list[TermHit]:
    places = [found.span() for found in (p.search(seen.text) for p in _patterns(term)) if found]
    places = [(start, end) for start, end in places if end > start]
    if not places:
        return []
    start, end = min(places)
    span = Span(start, end, "term", seen.legibility != "clear")
    return [TermHit(term.id, term.not_before, term.not_after, term.strictness, span, term.source)]


def _patterns(term: Term) -> list[re.Pattern[str]]:
    try:
        return [_compiled(pattern) for pattern in term.patterns]
    except re.error as error:
        raise TableError(f"term {term.id!r}: {error}", "regular expressions") from error


@lru_cache(maxsize=1024)
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern)
