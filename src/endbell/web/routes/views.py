"""Saved views of the shelf, each an address; and the page of statistics beside it."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import parse_qsl

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...store import SHOP, append
from ...store.views import View, remove_view, save_view, views_of
from ..desk import Desk, desk_of
from ..refusal import not_found
from ..rights import Reader, Technician
from ..shelf_query import query_from
from . import statistics

router = APIRouter()
router.include_router(statistics.router)


@router.get("/views/{view}")
def view(request: Request, person: Reader, view: str) -> Response:
    """To the shelf as the view has it."""
    found = _view(desk_of(request), view)
    return RedirectResponse(address_of(found), 303)


@router.post("/views")
def save(
    request: Request,
    person: Technician,
    name: Annotated[str, Form(max_length=200)],
    query: Annotated[str, Form(max_length=4000)] = "",
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Keep the search of an address under a name, for everybody in the shop."""
    desk = desk_of(request)
    asked = query_from(dict(parse_qsl(query.lstrip("?"))))
    fields = {k: v for k, v in asked.fields().items() if k != "page"}
    change = save_view(views_of(desk.db), name, fields)
    append(desk.db, SHOP, [change], by=person.by, key=key or None)
    return RedirectResponse(f"/views/{change.data['view']}", 303)


@router.post("/views/{view}/remove")
def remove(
    request: Request,
    person: Technician,
    view: str,
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Take a view off the list; what it shows stays where it is."""
    desk = desk_of(request)
    _view(desk, view)
    append(desk.db, SHOP, [remove_view(view)], by=person.by, key=key or None)
    return RedirectResponse("/dossiers", 303)


def address_of(view: View) -> str:
    """The address of what a view shows."""
    return query_from(view.query).address()


def _view(desk: Desk, view: str) -> View:
    found = next((v for v in views_of(desk.db) if v.id == view), None)
    if found is None:
        raise not_found("such view: it may have been removed")
    return found
