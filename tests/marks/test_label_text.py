from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from endbell.marks import Seen, TableError, read_mark

from .conftest import Read, Refused
from .small import TABLES

KIND = "label-text"


def test_every_dated_term_on_a_label_counts(read: Read) -> None:
    text = "Ellery 16, Ill.\nZIP 60616"
    reading = read(KIND, text)
    assert reading.dating == "terms"
    assert [hit.term for hit in reading.terms] == ["zone", "zip"]
    zone = reading.terms[0]
    assert text[zone.span.start : zone.span.end] == "Ellery 16, I"
    assert (zone.not_before, zone.not_after) == (date(1943, 5, 1), date(1963, 6, 30))


def test_a_term_that_stands_twice_counts_once(read: Read) -> None:
    assert [hit.term for hit in read(KIND, "ZIP 60616, ZIP 60617").terms] == ["zip"]


def test_case_matters_where_the_term_says_so(refused: Refused) -> None:
    assert refused(KIND, "zip").found == "no dated term"


def test_a_label_without_a_dated_term_is_told_which_terms_date(refused: Refused) -> None:
    assert refused(KIND, "Brackwater Sound Works").accepted == "city with a zone, ZIP code"


def test_a_long_label_is_read_and_a_longer_one_is_not(read: Read, refused: Refused) -> None:
    assert read(KIND, "ZIP " + "x" * 1900).terms
    assert "at most 2000" in refused(KIND, "ZIP " + "x" * 2000).accepted


def test_a_term_that_is_no_regular_expression_is_an_error_of_the_table() -> None:
    broken = replace(TABLES.terms[0], patterns=("(",))
    with pytest.raises(TableError, match="zone"):
        read_mark(Seen(KIND, "ZIP"), replace(TABLES, terms=(broken,)))
