"""An address of the shelf: what is searched, how it is sorted, which page; and back again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from urllib.parse import urlencode

from ..dossier.keys import PURPOSES
from ..store.listing import PAGE, SORTS, Filters

FIELDS = ("q", "state", "purpose", "maker", "model", "tag", "from", "to", "told", "odd", "weighed")
"""What narrows the list, in the order of an address; 'sort', 'down' and 'page' come after."""

UP_FIRST = frozenset({"number", "model", "whose"})
"""Columns that begin with the smallest when they are chosen."""

FIRST = "changed"
STATES = {"open": False, "closed": True}
TOLD = {"yes": True, "no": False}


@dataclass(frozen=True, slots=True)
class Query:
    """``given``: the fields that narrow the list, as typed; what can't be used is left out."""

    given: Mapping[str, str] = field(default_factory=dict[str, str])
    sort: str = FIRST
    down: bool = True
    page: int = 1

    @property
    def filters(self) -> Filters:
        """For the list."""
        get = self.given.get
        return Filters(
            words=get("q", ""),
            closed=STATES.get(get("state", "")),
            purpose=get("purpose", ""),
            maker=get("maker", ""),
            model=get("model", ""),
            tag=get("tag", ""),
            year_from=_year(get("from", "")),
            year_to=_year(get("to", "")),
            told=TOLD.get(get("told", "")),
            conflicts=TOLD.get(get("odd", "")),
            weighed=False if get("weighed") == "no" else None,
        )

    @property
    def offset(self) -> int:
        """How many rows stand before this page."""
        return (self.page - 1) * PAGE

    def fields(self) -> dict[str, str]:
        """The fields of its address, without those that say nothing."""
        out = dict(self.given)
        if (self.sort, self.down) != (FIRST, True):
            out["sort"] = self.sort
            if self.down != (self.sort not in UP_FIRST):
                out["down"] = "yes" if self.down else "no"
        if self.page > 1:
            out["page"] = str(self.page)
        return out

    def address(self, **other: str) -> str:
        """The address of the shelf with some fields otherwise; one given as '' is left out."""
        told = {**self.fields(), **other}
        plain = {key: value for key, value in told.items() if value}
        return f"/dossiers?{urlencode(plain)}" if plain else "/dossiers"

    def sorted_by(self, column: str) -> str:
        """The address sorted by a column; once more, the other way round."""
        down = not self.down if column == self.sort else column not in UP_FIRST
        return Query(self.given, column, down).address()


def query_from(params: Mapping[str, str]) -> Query:
    """The query of an address; what nobody can use is as if it were not there."""
    given: dict[str, str] = {}
    for name in FIELDS:
        value = " ".join(params.get(name, "").split())[:300]
        if value and _usable(name, value):
            given[name] = value
    sort = params.get("sort", FIRST)
    if sort not in SORTS:
        sort = FIRST
    down = TOLD.get(params.get("down", ""), sort not in UP_FIRST)
    page = params.get("page", "1")
    number = int(page) if page.isascii() and page.isdigit() and len(page) < 7 else 1
    return Query(given, sort, down, max(number, 1))


def _usable(name: str, value: str) -> bool:
    if name in ("from", "to"):
        return _year(value) is not None
    choices = {
        "state": STATES,
        "told": TOLD,
        "odd": TOLD,
        "weighed": ("no",),
        "purpose": PURPOSES,
    }.get(name)
    return choices is None or value in choices


def _year(text: str) -> int | None:
    return int(text) if len(text) == 4 and text.isascii() and text.isdigit() else None
