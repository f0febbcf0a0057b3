"""EDTF dates (ISO 8601-2, levels 0 to 2) as a first and a last day.

Intervals and sets are taken apart here, plain dates and the usual doubts (``1964?``, ``196X``) are
read here; what is left goes to the ``edtf`` library, which costs a tenth of a second to import and
is therefore imported only then.
"""

from __future__ import annotations

import re
from datetime import date
from importlib import import_module
from typing import Any

from .calendar import month_days, year_days
from .errors import EdtfError

Bounds = tuple[date | None, date | None]

_ACCEPTED = "EDTF such as 1964, 1964-03, 1964-03-14, 1963/1965, 196X, 1964-03?, [1957,1967]"
_LONGEST = 200
_DATE = re.compile(r"([0-9]{4})(?:-([0-9]{2})(?:-([0-9]{2}))?)?[?~%]?")
_DECADE = re.compile(r"([0-9]{3})X|([0-9]{2})XX")
_OPEN = ("", "..")


def edtf_bounds(text: str) -> Bounds:
    """Return the first and last day that an EDTF text covers; None where that end is open.

    An unknown end (``/1964``) is open too: it says nothing.  Doubt (``?``, ``~``, ``%``) does not
    move the bounds.  A set gives the bounds of all its members.  Raises ``EdtfError``.

    >>> edtf_bounds("1963/1965")
    (datetime.date(1963, 1, 1), datetime.date(1965, 12, 31))
    >>> edtf_bounds("../1964-02")
    (None, datetime.date(1964, 2, 29))
    >>> edtf_bounds("196u")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    endbell.marks.errors.EdtfError: '196u' is not an EDTF date; accepted: EDTF such as ...
    """
    if not text or len(text) > _LONGEST or text != text.strip() or not text.isascii():
        raise _refused(text)
    if text[0] in "[{":
        first, last = _set_bounds(text)
    elif "/" in text:
        first, last = _interval_bounds(text)
    else:
        first, last = _date_bounds(text, text)
    if first is not None and last is not None and last < first:
        raise EdtfError(f"{text!r} ends before it begins", "an interval with its earlier end first")
    return first, last


def _interval_bounds(text: str) -> Bounds:
    start, _, end = text.partition("/")
    if not start and not end:
        raise _refused(text)
    first = None if start in _OPEN else _date_bounds(start, text)[0]
    last = None if end in _OPEN else _date_bounds(end, text)[1]
    return first, last


def _set_bounds(text: str) -> Bounds:
    if text[-1] != {"[": "]", "{": "}"}[text[0]]:
        raise _refused(text)
    firsts: list[date | None] = []
    lasts: list[date | None] = []
    for member in text[1:-1].split(","):
        start, dots, end = (piece.strip() for piece in member.partition(".."))
        if not start and not end:
            raise _refused(text)
        firsts.append(_date_bounds(start, text)[0] if start else None)
        lasts.append(
            (_date_bounds(end, text)[1] if end else None) if dots else _date_bounds(start, text)[1]
        )
    known_firsts = [day for day in firsts if day is not None]
    known_lasts = [day for day in lasts if day is not None]
    return (
        min(known_firsts) if len(known_firsts) == len(firsts) else None,
        max(known_lasts) if len(known_lasts) == len(lasts) else None,
    )


def _date_bounds(piece: str, text: str) -> tuple[date, date]:
    """Bounds of one date; ``text`` is the whole, for the message."""
    try:
        plain = _DATE.fullmatch(piece)
        if plain and (plain[2] is None or int(plain[2]) <= 12):
            year, month, day = plain[1], plain[2], plain[3]
            if day is not None:
                found = date(int(year), int(month), int(day))
                return found, found
            return year_days(int(year)) if month is None else month_days(int(year), int(month))
        decade = _DECADE.fullmatch(piece)
        if decade:
            low = int(decade[1]) * 10 if decade[1] else int(decade[2]) * 100
            return date(low, 1, 1), date(low + (9 if decade[1] else 99), 12, 31)
        return _library_bounds(piece)
    except Exception as error:  # the library raises a dozen types on texts that are not EDTF
        raise _refused(text) from error


def _library_bounds(piece: str) -> tuple[date, date]:
    if any(character in piece for character in "/[]{},") or ".." in piece:
        raise ValueError("not one date")
    parsed: Any = import_module("edtf").parse_edtf(piece)
    # date() refuses the days that the library lets through, such as 29 February 1965
    return date(*parsed.lower_strict()[:3]), date(*parsed.upper_strict()[:3])


def _refused(text: str) -> EdtfError:
    shown = text if len(text) <= _LONGEST else text[:_LONGEST] + "…"
    return EdtfError(f"{shown!r} is not an EDTF date", _ACCEPTED)
