"""Saved views of the shelf: a name for a search that somebody comes back to.  One list per shop."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from .append import events_of, new_id
from .database import Database
from .events import SHOP, Change, ChangeRefused, Event
from .fold import undone_of

NAME_LENGTH = 60


@dataclass(frozen=True, slots=True)
class View:
    """A saved view.  ``query``: the fields of the search by name, as they stand in its address."""

    id: str
    name: str
    query: Mapping[str, str]
    by: str
    at: str


def views_of(db: Database) -> tuple[View, ...]:
    """The saved views of the shop, by name."""
    return views_after(events_of(db, SHOP))


def views_after(events: Iterable[Event]) -> tuple[View, ...]:
    """The views that ``events`` (of the stream 'shop', in order) leave, by name."""
    listed = tuple(events)
    undone = undone_of(listed)
    views: dict[str, View] = {}
    for event in listed:
        if event.n in undone:
            continue
        data = event.data
        if event.kind == "view-saved":
            query = {key: str(value) for key, value in data["query"].items()}
            views[data["view"]] = View(data["view"], data["name"], query, event.who, event.at)
        elif event.kind == "view-removed":
            views.pop(data["view"], None)
    return tuple(sorted(views.values(), key=lambda view: (view.name.casefold(), view.id)))


def save_view(views: Iterable[View], name: str, query: Mapping[str, str]) -> Change:
    """The change that keeps ``query`` under ``name``; a view of that name is replaced.

    Raises :class:`ChangeRefused` for a name that is empty or too long.
    """
    name = " ".join(name.split())
    if not name or len(name) > NAME_LENGTH:
        raise ChangeRefused(
            f"a view called {name!r:.80}; a name of 1 to {NAME_LENGTH} characters is accepted"
        )
    same = (view.id for view in views if view.name.casefold() == name.casefold())
    kept = {key: value for key, value in query.items() if value}
    return Change("view-saved", {"view": next(same, None) or new_id(), "name": name, "query": kept})


def remove_view(view: str) -> Change:
    """The change that takes a view off the list."""
    return Change("view-removed", {"view": view})
