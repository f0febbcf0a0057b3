"""Documents: a paper with a date shows that the amp existed by then."""

from __future__ import annotations

from .edtf_dates import edtf_bounds
from .errors import EdtfError
from .outcome import misfit, settled, shown
from .tables import Tables
from .types import MarkReading, Reading, Seen

KIND = "document"
WORDS = "a paper with a date, by which the amp existed"


def read(seen: Seen, tables: Tables) -> MarkReading:
    """Read a document: ``dating`` is 'existed', ``readings[0].last`` the last day of its date.

    Misfit: no date, a date that is not EDTF, a date with an open end.

    >>> from endbell.marks.tables import CodeGrammar, LetterDates
    >>> grammar = CodeGrammar((), choice_slack=0.02, lost_ratio=0.5, stray_end=0.1, separators=" -")
    >>> tables = Tables({}, {}, grammar, LetterDates({}, {}))
    >>> read(Seen(KIND, "shop receipt", date="1965-02"), tables).readings[0].last
    datetime.date(1965, 2, 28)
    """
    early = settled(seen, needs_text=False)
    if early:
        return early
    if not seen.date:
        return misfit(seen, "no date", "date = the document's date in EDTF, such as 1965-02-14")
    try:
        first, last = edtf_bounds(seen.date)
    except EdtfError as error:
        return misfit(seen, error.found, error.accepted)
    if last is None:
        return misfit(seen, f"date {shown(seen.date)} has no end", "a date by which it existed")
    return MarkReading(
        seen.kind,
        seen.text,
        seen.legibility,
        "existed",
        readings=(Reading(1.0, seen.date, first, last),),
    )
