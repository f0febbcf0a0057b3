"""Lists of dossiers for the API: a page at a time, the last changed first."""

from __future__ import annotations

from ..store import Database
from ..store.listing import following
from .api_models import DossierLine, DossierList
from .refusal import Refusal


def dossier_lines(db: Database, search: str, limit: int, after: str) -> DossierList:
    """A page of the list; ``after``: the mark that the page before ended with."""
    at, mark, last = after.partition("/")
    if after and not mark:
        raise Refusal(422, "after is no mark of a page", "the one that came", place="after")
    rows = following(db, search, limit + 1, (at, last) if after else None)
    lines = [DossierLine.model_validate(row) for row in rows[:limit]]
    more = f"{lines[-1].changed_at}/{lines[-1].id}" if len(rows) > limit else None
    return DossierList(dossiers=lines, after=more)
