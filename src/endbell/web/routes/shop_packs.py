"""The shop's own packs: a new one, who changed what, a change taken back or brought back."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...store import Change, new_id
from ...store.accounts import names_of
from ...store.shop_packs import PackChange, pack_file_removed, pack_file_set, pack_files
from ..desk import Desk, desk_of
from ..pack_library import Library
from ..pages import render
from ..refusal import Refusal, not_found
from ..rights import Reader, Technician
from ..shop_desk import (
    SHOP_PACK,
    SHOP_TITLE,
    checked_files,
    compared,
    history_of,
    made,
    record,
)

router = APIRouter(prefix="/packs")


@router.get("/new")
def new_page(request: Request, person: Technician, builds_on: str = "") -> Response:
    """The form for a pack of the shop's own."""
    desk = desk_of(request)
    library = Library(desk.packs)
    return render(
        request,
        "packs/new.html",
        key=new_id(),
        name="" if SHOP_PACK in pack_files(desk.db) else SHOP_PACK,
        title=SHOP_TITLE,
        sheets=[sheet for sheet in library.sheets if not sheet.always],
        builds_on=builds_on,
    )


@router.post("/new")
def make(
    request: Request,
    person: Technician,
    pack: Annotated[str, Form(max_length=60)],
    title: Annotated[str, Form(max_length=200)] = "",
    builds_on: Annotated[list[str], Form()] = [],  # noqa: B006
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Make a pack: its head, and nothing else yet."""
    desk = desk_of(request)
    files = made(desk, pack.strip(), title, builds_on)
    changes = [pack_file_set(pack.strip(), name, text) for name, text in files.items()]
    record(desk, person, changes, key)
    return RedirectResponse(f"/packs/{pack.strip()}", 303)


@router.get("/{pack}/history")
def history(request: Request, person: Reader, pack: str) -> Response:
    """Every change of a pack with what it changed, the latest first."""
    desk = desk_of(request)
    changes = history_of(desk, pack)
    if not changes:
        raise not_found("such pack of the shop’s own")
    return render(
        request,
        "packs/history.html",
        pack=pack,
        there=pack in pack_files(desk.db),
        changes=changes,
        compared=compared,
        names=names_of(desk.db),
        key=new_id(),
    )


@router.post("/{pack}/undo")
def undo(
    request: Request,
    person: Technician,
    pack: str,
    n: Annotated[int, Form()],
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Take a change back: the file is as if it had not been made."""
    return _again(request, person, pack, n, key, "undone")


@router.post("/{pack}/redo")
def redo(
    request: Request,
    person: Technician,
    pack: str,
    n: Annotated[int, Form()],
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Make a change again that was taken back."""
    return _again(request, person, pack, n, key, "redone")


@router.post("/{pack}/bring-back")
def bring_back(
    request: Request,
    person: Technician,
    pack: str,
    n: Annotated[int, Form()],
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """A file as it was after an earlier change, recorded anew."""
    desk = desk_of(request)
    change = _change(desk, pack, n)
    if change.content is None:
        again = pack_file_removed(pack, change.file)
    else:
        again = pack_file_set(pack, change.file, change.content)
    return _done(desk, person, pack, {change.file: change.content}, again, key)


def _again(
    request: Request, person: Technician, pack: str, n: int, key: str, kind: str
) -> Response:
    desk = desk_of(request)
    change = _change(desk, pack, n)
    text = change.content if kind == "redone" else change.before
    after = {change.file: text} if change.in_force or kind == "redone" else {}
    return _done(desk, person, pack, after, Change(kind, {"n": n}), key)


def _change(desk: Desk, pack: str, n: int) -> PackChange:
    change = next((c for c in history_of(desk, pack) if c.n == n), None)
    if change is None:
        raise not_found("such change in that pack")
    return change


def _done(
    desk: Desk,
    person: Technician,
    pack: str,
    after: dict[str, str | None],
    change: Change,
    key: str,
) -> Response:
    """Record a change, unless the pack could not be read any more after it."""
    files = {**pack_files(desk.db).get(pack, {}), **after}
    left = {name: text for name, text in files.items() if text is not None}
    checked = checked_files(desk, pack, left) if left else None
    if checked is not None and not checked.readable:
        trouble = next(t for t in checked.troubles if not t.table)
        raise Refusal(422, f"{trouble.file}: {trouble.found}", trouble.accepted)
    record(desk, person, [change], key)
    return RedirectResponse(f"/packs/{pack}/history", 303)
