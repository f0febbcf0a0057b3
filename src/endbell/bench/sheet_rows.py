"""Tables of a sheet file: their keys checked, faults turned into problems and remarks."""

from __future__ import annotations

from collections.abc import Mapping

from ..dossier.rows import Desk, Place, Row, read_keys, unknown_keys
from ..dossier.values import check_value
from .sheet_keys import OPEN_TABLES, TABLES

Table = Mapping[str, object]


def read_sheet_row(desk: Desk, place: Place, table: Table, name: str) -> Row | None:
    """The keys of ``table`` against ``TABLES[name]``; None where the row can't be used.

    The first fault in a key that counts is the reason it is left out; a fault in another key, and
    an unknown key, are remarks.
    """
    values, fatal = read_keys(desk, place, table, TABLES[name], check_value)
    if name not in OPEN_TABLES:
        known = [key.name for key in TABLES[name]]
        unknown_keys(desk, place, table, known if name else [*known, *TABLES, "circuit"], "sheet")
    if fatal is None:
        return Row(place, values)
    desk.problem(place, fatal)
    return None
