"""What is written on a part, and everything it can mean. Pure: text and tables in, readings out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from . import (
    chart_letters,
    condition,
    date_code,
    document,
    feature,
    hand_date,
    label_text,
    measured,
    model_designation,
    patent_number,
    serial,
    source_date_code,
    year_stamp,
)
from .edtf_dates import edtf_bounds
from .errors import EdtfError, MarkError, TableError, TextError, UnknownKind, WeekError
from .tables import Tables
from .types import MarkReading, Misfit, Reading, Seen, Span, Split, TermHit, Vector

_ROOMS = (
    source_date_code,
    date_code,
    chart_letters,
    year_stamp,
    hand_date,
    serial,
    label_text,
    patent_number,
    model_designation,
    feature,
    measured,
    condition,
    document,
)

KINDS: Mapping[str, str] = MappingProxyType({room.KIND: room.WORDS for room in _ROOMS})
"""Every kind of mark, and one line on what it is."""

_READERS: dict[str, Callable[[Seen, Tables], MarkReading]] = {
    room.KIND: room.read for room in _ROOMS
}


def read_mark(seen: Seen, tables: Tables) -> MarkReading:
    """Read one mark into everything it can mean, by the reader of its kind.

    Whatever is wrong with the mark comes back as ``misfit``, with ``dating`` 'nothing'.  Raises
    ``UnknownKind`` for a kind that no reader is registered for, ``TableError`` for tables that lack
    what the reading needs.
    """
    reader = _READERS.get(seen.kind)
    if reader is None:
        raise UnknownKind(f"kind {seen.kind!r}", ", ".join(KINDS))
    return reader(seen, tables)


__all__ = [
    "KINDS",
    "EdtfError",
    "MarkError",
    "MarkReading",
    "Misfit",
    "Reading",
    "Seen",
    "Span",
    "Split",
    "TableError",
    "Tables",
    "TermHit",
    "TextError",
    "UnknownKind",
    "Vector",
    "WeekError",
    "edtf_bounds",
    "read_mark",
]
