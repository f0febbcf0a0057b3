"""EDTF levels 0 to 2 against the published cases; none of these rows is from memory."""

from __future__ import annotations

from datetime import date

import pytest

from endbell.marks import EdtfError, edtf_bounds

from .rows import Row, rows

CASES = [row for row in rows("iso8601_edtf_cases") if row["kind"].startswith("edtf")]
VALID = [row for row in CASES if row["valid"] == "valid"]
INVALID = [row for row in CASES if row["valid"] == "invalid"]
OPEN = ("-infinity", "+infinity", "unknown")


def day(published: str) -> date | None:
    return None if published in OPEN else date.fromisoformat(published)


@pytest.mark.parametrize("row", VALID, ids=lambda row: row["string"])
def test_an_edtf_date_has_its_published_bounds(row: Row) -> None:
    assert edtf_bounds(row["string"]) == (day(row["interval_start"]), day(row["interval_end"]))


@pytest.mark.parametrize("row", INVALID, ids=lambda row: row["string"])
def test_what_the_standard_does_not_allow_is_refused(row: Row) -> None:
    with pytest.raises(EdtfError):
        edtf_bounds(row["string"])


def test_all_levels_and_the_invalid_ones_are_there() -> None:
    assert {row["kind"] for row in VALID} == {"edtf_level_0", "edtf_level_1", "edtf_level_2"}
    assert len(INVALID) == 7
