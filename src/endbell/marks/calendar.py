"""Weeks and days: ISO weeks, and the other two ways in which makers numbered their weeks.

A week number on a part is ambiguous by a few days, because three conventions were in use:

- ISO 8601: Monday to Sunday, week 1 holds the year's first Thursday;
- the trade association's weekly tables: Sunday to Saturday;
- counted from 1 January, whatever weekday that is.
"""

from __future__ import annotations

from calendar import monthrange
from datetime import MAXYEAR, MINYEAR, date, timedelta

from .errors import WeekError

# English, whatever the locale of the machine: calendar.month_name would follow it
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)

_LAST_WEEK = 53


def weeks_in_year(year: int) -> int:
    """Return 52 or 53, the number of ISO weeks of ``year`` (28 December is always in the last).

    >>> weeks_in_year(1964), weeks_in_year(1965)
    (53, 52)
    """
    _check_year(year)
    return date(year, 12, 28).isocalendar().week


def iso_week_of(day: date) -> tuple[int, int]:
    """Return the ISO year and week of a day; the year is that of the week's Thursday.

    >>> iso_week_of(date(2005, 1, 1))
    (2004, 53)
    """
    found = day.isocalendar()
    return found.year, found.week


def iso_week_days(year: int, week: int) -> tuple[date, date]:
    """Return Monday and Sunday of an ISO week.

    Raises ``WeekError`` where the year has no such week.

    >>> iso_week_days(1963, 48)
    (datetime.date(1963, 11, 25), datetime.date(1963, 12, 1))
    """
    if not 1 <= week <= weeks_in_year(year):
        raise WeekError(f"week {week} of {year}", f"weeks 1 to {weeks_in_year(year)}")
    return coded_week_days(year, week)


def coded_week_days(year: int, week: int) -> tuple[date, date]:
    """Return Monday and Sunday of the week a code names, week 53 of a 52-week year included.

    Such a week 53 is the seven days after week 52: codes have it, because the other conventions
    can run to 53 where ISO 8601 does not.
    """
    _check_week(year, week)
    monday = date.fromisocalendar(year, 1, 1) + timedelta(weeks=week - 1)
    return monday, monday + timedelta(days=6)


def association_week_days(year: int, week: int) -> tuple[date, date]:
    """Return Sunday and Saturday of a week of the association's tables.

    The one published example (week 10 of 1999 is 7 to 13 March) fixes the weekday; whether week 1
    is the first full week or the first with four days in the year it does not tell, and the second
    is taken here: it stays within a day of ISO 8601.

    >>> association_week_days(1999, 10)
    (datetime.date(1999, 3, 7), datetime.date(1999, 3, 13))
    """
    _check_week(year, week)
    fourth = date(year, 1, 4)  # four days of January lie in the week that holds it
    sunday = fourth - timedelta(days=fourth.isoweekday() % 7) + timedelta(weeks=week - 1)
    return sunday, sunday + timedelta(days=6)


def january_week_days(year: int, week: int) -> tuple[date, date]:
    """Return the first and last day of a week counted from 1 January; week 53 has a day or two.

    >>> january_week_days(1964, 53)
    (datetime.date(1964, 12, 30), datetime.date(1964, 12, 31))
    """
    _check_week(year, week)
    first = date(year, 1, 1) + timedelta(weeks=week - 1)
    return first, min(first + timedelta(days=6), date(year, 12, 31))


def week_label(year: int, week: int) -> str:
    """Return '1963-W48'."""
    return f"{year:04d}-W{week:02d}"


def month_days(year: int, month: int) -> tuple[date, date]:
    """Return the first and last day of a month."""
    return date(year, month, 1), date(year, month, monthrange(year, month)[1])


def year_days(year: int) -> tuple[date, date]:
    """Return 1 January and 31 December."""
    return date(year, 1, 1), date(year, 12, 31)


def _check_year(year: int) -> None:
    # one year inside the limits of `date`, since weeks reach over both ends of a year
    if not MINYEAR < year < MAXYEAR:
        raise WeekError(f"year {year}", f"years {MINYEAR + 1} to {MAXYEAR - 1}")


def _check_week(year: int, week: int) -> None:
    _check_year(year)
    if not 1 <= week <= _LAST_WEEK:
        raise WeekError(f"week {week} of {year}", f"weeks 1 to {_LAST_WEEK}")
