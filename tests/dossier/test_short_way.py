"""A table that is in order is read by a short way; it must say what the long way says."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from endbell.dossier import rows
from endbell.dossier.keys import TABLES
from endbell.dossier.rows import Desk, Place, Row, read_row

VALUES = st.one_of(
    st.text(max_size=4),
    st.sampled_from(["seen", "worn", "buy", "2026-03-02", "1964", "x\u202ey", "x" * 2001, "a\tb"]),
    st.integers(),
    st.floats(),
    st.booleans(),
    st.just(date(2026, 3, 2)),
    st.lists(st.text(max_size=3), max_size=3),
)


@st.composite
def tables(draw: Any) -> tuple[str, dict[str, Any]]:
    name = draw(st.sampled_from(sorted(TABLES)))
    keys = st.sampled_from([*(key.name for key in TABLES[name]), "", "mark", "shelf"])
    return name, draw(st.dictionaries(keys, VALUES, max_size=6))


def read(name: str, table: dict[str, Any]) -> tuple[Row | None, Desk]:
    desk = Desk("amp.toml")
    return read_row(desk, Place(name or "dossier", 1, 3), table, name), desk


@given(tables())
def test_the_short_way_reads_what_the_long_way_reads(found: tuple[str, dict[str, Any]]) -> None:
    name, table = found
    short = read(name, table)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rows, "_faultless", lambda table, name: None)
        long = read(name, table)
    assert _told(short) == _told(long)


def _told(read: tuple[Row | None, Desk]) -> str:
    """All of it, the values by their names: whatever their order, nobody can tell the difference."""
    row, desk = read
    if row is None:
        return repr(read)
    values = dict(sorted(row.values.items()))
    return repr((replace(row, values=values), desk))
