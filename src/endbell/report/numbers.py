"""How numbers are said. One place, so that page, terminal and paper never disagree."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from math import isnan

from ..chronology.percent import percent as in_words
from ..chronology.weeks import thursday, week_of
from ..marks.calendar import MONTHS

_MONTH = re.compile(r"(\d{4})-(\d{2})(?:-(\d{2}))?")
_WEEK = re.compile(r"(\d{4})-W(\d{2})")


def percent(p: float | None) -> str:
    """A probability in [0, 1] as a percentage that never claims certainty.

    The verdict's own words use the same helper.

    >>> percent(0.9996), percent(0.0002), percent(0.971), percent(0.9962), percent(None)
    ('over 99.9%', 'under 0.1%', '97%', '99.6%', 'not known')
    """
    if p is None or isnan(p):
        return "not known"
    return in_words(p)


def bits(value: float) -> str:
    """Information in bits, two digits that matter.

    >>> bits(1.4), bits(0.031), bits(0.0), bits(12.3)
    ('1.4 bits', '0.03 bits', 'under 0.01 bits', '12 bits')
    """
    if value < 0.01:
        return "under 0.01 bits"
    if value >= 9.95:
        return f"{value:.0f} bits"
    return f"{value:.1f} bits" if value >= 0.095 else f"{value:.2f} bits"


def minutes(value: float) -> str:
    """Minutes of work.

    >>> minutes(4.0), minutes(1.0), minutes(0.5)
    ('4 minutes', '1 minute', '0.5 minutes')
    """
    return "1 minute" if value == 1 else f"{value:g} minutes"


def figure(value: float) -> str:
    """An assumption's value, as short as it can be said.

    >>> figure(9.0), figure(0.0001), figure(1 / 3)
    ('9', '0.0001', '0.3333')
    """
    return f"{value:.4g}"


def index_of(week: str) -> int:
    """Week index (0 = 1930-W01) of an ISO week name.

    Raises ValueError if the text is no ISO week.

    >>> index_of("1964-W01")
    1774
    """
    found = _WEEK.fullmatch(week)
    if found is None:
        raise ValueError(f"not an ISO week: {week!r}")
    return week_of(date.fromisocalendar(int(found[1]), int(found[2]), 4))


def week_words(label: str) -> str:
    """'1964-W05' as a person says it; any other label unchanged.

    >>> week_words("1964-W05"), week_words("1964-03"), week_words("1964-03-14"), week_words("grey")
    ('1964 week 5', 'March 1964', '14 March 1964', 'grey')
    """
    if found := _WEEK.fullmatch(label):
        return f"{found[1]} week {int(found[2])}"
    if (found := _MONTH.fullmatch(label)) and 1 <= int(found[2]) <= 12:
        day = f"{int(found[3])} " if found[3] else ""
        return f"{day}{MONTHS[int(found[2]) - 1]} {found[1]}"
    return label


def span_words(first: int, last: int) -> str:
    """A run of weeks (indices, both included) in months.

    >>> span_words(1778, 1800), span_words(1774, 1775), span_words(1770, 1780)
    ('January to July 1964', 'January 1964', 'December 1963 to February 1964')
    """
    a, b = thursday(first), thursday(last)
    if (a.year, a.month) == (b.year, b.month):
        return f"{MONTHS[a.month - 1]} {a.year}"
    if a.year == b.year:
        return f"{MONTHS[a.month - 1]} to {MONTHS[b.month - 1]} {a.year}"
    return f"{MONTHS[a.month - 1]} {a.year} to {MONTHS[b.month - 1]} {b.year}"


def years_words(first: int, last: int) -> str:
    """A stretch of years, short.

    >>> years_words(1957, 1957), years_words(1957, 1958), years_words(1998, 2001)
    ('1957', '1957–58', '1998–2001')
    """
    if first == last:
        return str(first)
    return f"{first}–{last % 100:02d}" if first // 100 == last // 100 else f"{first}–{last}"


def day_words(day: date) -> str:
    """A day in full.

    >>> day_words(date(2026, 3, 2))
    '2 March 2026'
    """
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def ranges(numbers: Iterable[int]) -> str:
    """Whole numbers, runs of three and more joined.

    >>> ranges([1, 2, 3, 7, 9, 10])
    '1–3, 7, 9 and 10'
    """
    runs: list[list[int]] = []
    for n in sorted(set(numbers)):
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    said = [
        part
        for run in runs
        for part in ([f"{run[0]}–{run[-1]}"] if len(run) > 2 else [str(n) for n in run])
    ]
    return listed(said)


def listed(items: list[str] | tuple[str, ...], word: str = "and") -> str:
    """Items as a sentence says them.

    >>> listed(["1954", "1964", "1974"], "or")
    '1954, 1964 or 1974'
    """
    if len(items) <= 1:
        return "".join(items)
    return f"{', '.join(items[:-1])} {word} {items[-1]}"
