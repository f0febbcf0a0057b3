"""Many dossiers at once: tagged, closed, given a pack of the shop's; their tags printed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated
from urllib.parse import parse_qsl

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...reference import PackError
from ...report.tag import MOST, SIZES, Tag, TagRefused, tag_of, tags_pdf
from ...store import Change, DossierState, NoDossier, new_id, state_of
from ...store.bulk import bulk
from ...store.listing import ids_of
from ...store.shelf_rows import carry_strips
from ..desk import Desk, desk_of
from ..live import changed_soon
from ..pack_library import Library
from ..pages import render
from ..refusal import Refusal
from ..rights import Technician
from ..shelf_query import query_from

router = APIRouter(prefix="/dossiers")

AT_ONCE = 2_000
TAG_LENGTH = 80
UNWEIGHED = ("tag", "untag", "close", "reopen")
"""Actions that change no strip."""

ACTIONS = (*UNWEIGHED, "use-pack")

Ids = Annotated[list[str], Form()]
Text = Annotated[str, Form(max_length=4000)]


@router.post("/bulk")
def many(
    request: Request,
    person: Technician,
    action: Text,
    id: Ids = [],  # noqa: B006
    tag: Text = "",
    pack: Text = "",
    every: Text = "",
    query: Text = "",
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """One action on those picked, or (``every``) on all that the search of ``query`` finds."""
    desk = desk_of(request)
    if action not in ACTIONS:
        raise Refusal(422, f"the action '{action}'", f"one of {', '.join(ACTIONS)}")
    name = " ".join(tag.split())
    if action in ("tag", "untag") and not 0 < len(name) <= TAG_LENGTH:
        raise Refusal(422, f"the tag '{name[:90]}'", f"a tag of 1 to {TAG_LENGTH} characters")
    if action == "use-pack":
        name = Library(desk.packs).own(pack).id
    chosen = {state.id: state for state in picked(desk, id, every, query)}
    changes = {
        state.id: [change]
        for state in chosen.values()
        if (change := change_for(state, action, name)) is not None
    }
    done = bulk(desk.db, changes, by=person.by, key=key or new_id())
    if action in UNWEIGHED:
        carry_strips(desk.db, {one: chosen[one].version for one in done.done})
    for dossier in done.done:
        if desk.hub.viewers(dossier):
            changed_soon(desk, dossier)
    if done.refused:
        return render(
            request, "shelf/refused.html", status=422, done=done, names=_names(desk, done.refused)
        )
    return RedirectResponse(f"/dossiers?{query.lstrip('?')}" if query else "/dossiers", 303)


@router.post("/tags.pdf")
def tags(
    request: Request,
    person: Technician,
    id: Ids = [],  # noqa: B006
    every: Text = "",
    query: Text = "",
    size: Text = "62x29",
) -> Response:
    """The printed tags of those picked, as one PDF."""
    desk = desk_of(request)
    if size not in SIZES:
        raise Refusal(422, f"labels of the size '{size}'", f"one of {', '.join(SIZES)}")
    chosen = picked(desk, id, every, query)
    if len(chosen) > MOST:
        raise Refusal(422, f"{len(chosen)} tags", f"at most {MOST} at once")
    try:
        pdf = tags_pdf([_tag(desk, state) for state in chosen], size)
    except TagRefused as error:
        raise Refusal(422, str(error)) from None
    headers = {"Content-Disposition": 'attachment; filename="tags.pdf"'}
    return Response(pdf, media_type="application/pdf", headers=headers)


def picked(desk: Desk, ids: Sequence[str], every: str, query: str) -> list[DossierState]:
    """The dossiers that an action is meant for, in the order given.  Refuses none and too many."""
    if every:
        asked = query_from(dict(parse_qsl(query.lstrip("?"))))
        ids = ids_of(desk.db, asked.filters)
    wanted = list(dict.fromkeys(ids))
    if not wanted:
        raise Refusal(422, "no dossier picked", "at least one")
    if len(wanted) > AT_ONCE:
        raise Refusal(422, f"{len(wanted)} dossiers", f"at most {AT_ONCE} at once")
    try:
        return [state_of(desk.db, one) for one in wanted]
    except NoDossier as error:
        raise Refusal(404, str(error), "dossiers that are on the list") from None


def change_for(state: DossierState, action: str, name: str = "") -> Change | None:
    """What an action (with a tag or pack of that name) changes; None where it is so already."""
    if action == "tag":
        return None if name in state.tags else Change("tags-set", {"tags": [*state.tags, name]})
    if action == "untag":
        left = [one for one in state.tags if one != name]
        return Change("tags-set", {"tags": left}) if name in state.tags else None
    if action == "use-pack":
        packs = [*state.packs, name]  # at the end: what the shop says counts before what is below
        return None if name in state.packs else Change("head-set", {"keys": {"packs": packs}})
    if action == "close":
        return None if state.closed else Change("closed")
    return Change("reopened") if state.closed else None


def _tag(desk: Desk, state: DossierState) -> Tag:
    try:
        reference = desk.packs.reference(state.packs)
    except PackError:
        reference = None
    return tag_of(state.id, state.number, state.claim, state.opened_at[:10], reference)


def _names(desk: Desk, ids: Iterable[str]) -> dict[str, str]:
    names: dict[str, str] = {}
    for one in ids:
        try:
            names[one] = state_of(desk.db, one).number
        except NoDossier:
            names[one] = one
    return names
