"""Weeks by number and by name: ISO weeks from 1930-W01, which is week 0."""

from __future__ import annotations

from datetime import date, timedelta

FIRST_MONDAY = date(1929, 12, 30)  # Monday of ISO 1930-W01


def week_of(day: date) -> int:
    """Week index of a day (negative before 1930-W01).

    >>> week_of(date(1964, 1, 2))
    1774
    """
    return (day - FIRST_MONDAY).days // 7


def thursday(week: int) -> date:
    """The Thursday of a week: it carries the week's year and month (ISO 8601-1, 4.2.2)."""
    return FIRST_MONDAY + timedelta(days=7 * week + 3)


def week_label(week: int) -> str:
    """ISO 8601 name of a week.

    >>> week_label(1774)
    '1964-W01'
    """
    year, number, _ = thursday(week).isocalendar()
    return f"{year:04d}-W{number:02d}"
