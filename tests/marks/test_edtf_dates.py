from __future__ import annotations

import sys
from datetime import date

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from endbell.marks import EdtfError, edtf_bounds


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("1964", date(1964, 1, 1), date(1964, 12, 31)),
        ("1964-02", date(1964, 2, 1), date(1964, 2, 29)),
        ("1964-02-14", date(1964, 2, 14), date(1964, 2, 14)),
        ("1963/1965-03", date(1963, 1, 1), date(1965, 3, 31)),
        ("196X", date(1960, 1, 1), date(1969, 12, 31)),
        ("1964-03?", date(1964, 3, 1), date(1964, 3, 31)),
        ("1957~", date(1957, 1, 1), date(1957, 12, 31)),
        ("../1965", None, date(1965, 12, 31)),
        ("1965/..", date(1965, 1, 1), None),
        ("/1965", None, date(1965, 12, 31)),
        (
            "[1957-09..1957-12,1967-08..1967-11]",
            date(1957, 9, 1),
            date(1967, 11, 30),
        ),
        ("1964/", date(1964, 1, 1), None),
        ("1964-22", date(1964, 6, 1), date(1964, 8, 31)),
    ],
)
def test_a_date_covers_its_first_to_its_last_day(
    text: str, first: date | None, last: date | None
) -> None:
    assert edtf_bounds(text) == (first, last)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " 1964",
        "1964-13",
        "1965-02-29",
        "196u",
        "about 1964",
        "/",
        "[",
        "[]",
        "[1964",
        "1965/1964",
        "Y170000002",
        "1964//1965",
        "1964/1965/1966",
        "[1964,[1965]]",
        "１９６４",
        "0000",
        "x" * 300,
    ],
)
def test_what_is_not_edtf_is_refused_with_what_would_be_accepted(text: str) -> None:
    with pytest.raises(EdtfError, match="accepted: "):
        edtf_bounds(text)


def test_the_usual_dates_need_no_library(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "edtf", None)  # importing it now fails
    for text in ("1964", "1964-03-14", "1963/1965", "196X", "1964?", "[1957,1967]"):
        assert edtf_bounds(text)[0] is not None
    with pytest.raises(EdtfError):
        edtf_bounds("1964-22")


@given(st.one_of(st.text(max_size=30), st.text("0123456789-/.X?~%[]{}, ", max_size=24)))
@example("[" * 30)
def test_any_text_is_a_pair_of_days_in_order_or_an_edtf_error(text: str) -> None:
    try:
        first, last = edtf_bounds(text)
    except EdtfError:
        return
    assert first is None or last is None or first <= last
