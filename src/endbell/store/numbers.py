"""The shop's own numbers: which one comes next, and which are taken."""

from __future__ import annotations

import re

from sqlalchemy import func, select

from .database import Database, reading
from .events import SHOP, canonical
from .tables import dossiers, events

PREFIX = "AMP"
"""Where neither a setting nor an earlier number gives one."""

SETTING = "number-prefix"

_NUMBER = re.compile(r"(?P<prefix>.+)-(?P<year>[0-9]{4})-(?P<count>[0-9]+)")


def dossier_numbered(db: Database, number: str) -> str | None:
    """The id of the dossier that bears a number, or None."""
    with reading(db) as connection:
        return connection.execute(select(dossiers.c.id).where(dossiers.c.number == number)).scalar()


def next_number(db: Database, year: int) -> str:
    """The number to propose: prefix, year and a counter that begins anew each year.

    The prefix is the shop's setting, else that of the dossier booked in last.
    """
    prefix = _prefix(db)
    start = f"{prefix}-{year}-"
    number = dossiers.c.number
    with reading(db) as connection:
        last = connection.execute(
            select(number)
            .where(func.substr(number, 1, len(start)) == start)
            .order_by(func.length(number).desc(), number.desc())
            .limit(20)
        ).scalars()
        counts = [int(found["count"]) for n in last if (found := _NUMBER.fullmatch(n))]
    return f"{start}{max(counts, default=0) + 1:04d}"


def _prefix(db: Database) -> str:
    with reading(db) as connection:
        told = connection.execute(
            select(events.c.data)
            .where(
                (events.c.stream == SHOP)
                & (events.c.kind == "setting-set")
                & events.c.data.contains(canonical({"name": SETTING})[1:-1], autoescape=True)
            )
            .order_by(events.c.n.desc())
            .limit(1)
        ).scalar()
        last = connection.execute(
            select(dossiers.c.number).order_by(dossiers.c.opened_at.desc()).limit(1)
        ).scalar()
    if told:
        import json

        value = str(json.loads(told).get("value") or "").strip()
        if value:
            return value
    found = _NUMBER.fullmatch(last or "")
    return found["prefix"] if found else PREFIX
