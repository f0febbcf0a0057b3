"""Marks recorded, worded anew, withdrawn.  Whatever was typed stays in the history as it was."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse
from starlette.concurrency import run_in_threadpool

from ...marks import KINDS
from ...report.amp import Spot
from ...report.amp_looks import Look
from ...store import Change, DossierState, append, new_id, state_of
from ..amp_now import AmpNow, amp_now, next_stop
from ..desk import Desk, desk_of
from ..live import changed, strip_html
from ..pages import render
from ..reader import Reading
from ..refusal import Refusal
from ..rights import Technician
from ..sessions import Person
from ..typed_mark import NotTyped, check_row, mark_of_row, row_of, sent_of
from .dossier import amp_context
from .entry import sheet_context

router = APIRouter()

_ULID = re.compile(r"[0-7][0-9A-HJKMNP-TV-Z]{25}")

TYPED = frozenset(
    {"part", "kind", "text", "legibility", "result", "place", "note", "feature", "value",
     "quantity", "unit", "uncertainty", "date"}
)  # fmt: skip
"""Keys of a mark that the sheet asks for; whatever else its row has stays when it is changed."""


@router.post("/dossiers/{dossier}/marks", include_in_schema=False)
async def enter(request: Request, person: Technician, dossier: str) -> Response:
    """A new mark; answers with the sheet of the next spot."""
    form = await request.form()
    desk = desk_of(request)
    state = await run_in_threadpool(_record, desk, person, dossier, form, None)
    return await _after(request, desk, person, state, form)


@router.post("/dossiers/{dossier}/marks/{mark}", include_in_schema=False)
async def change(request: Request, person: Technician, dossier: str, mark: str) -> Response:
    """Another wording of a mark; the earlier one stays in the history."""
    form = await request.form()
    desk = desk_of(request)
    state = await run_in_threadpool(_record, desk, person, dossier, form, mark)
    return await _after(request, desk, person, state, form)


@router.post("/dossiers/{dossier}/marks/{mark}/withdraw", include_in_schema=False)
async def withdraw(request: Request, person: Technician, dossier: str, mark: str) -> Response:
    """A mark that is not to count any more; it stays in the history."""
    form = await request.form()
    desk = desk_of(request)
    state, part = await run_in_threadpool(_withdraw, desk, person, dossier, mark, form)
    return await _after(request, desk, person, state, {"part": part, "stay": "yes"})


def _record(
    desk: Desk, person: Person, dossier: str, form: Mapping[str, Any], mark: str | None
) -> DossierState:
    state = state_of(desk.db, dossier)
    part = _text(form, "part").strip()
    if not part:
        raise Refusal(422, "a mark on no part", "the part it sits on")
    look = look_sent(form)
    row = row_of(sent_of(form), part, look)
    try:
        check_row(row)
    except NotTyped as error:
        found, _, accepted = str(error).partition("; ")
        raise Refusal(422, found, accepted) from error
    before: Mapping[str, Any] = {}
    if mark is None:
        _check_caution(desk, state, row)
    else:
        found_mark = state.mark(mark)
        if found_mark is None:
            raise Refusal(404, "there is no such mark", "one of those listed at the part")
        before = found_mark.row
    kept = {key: value for key, value in before.items() if key not in TYPED}
    said = {"by": person.name, "on": desk.today().isoformat()} if mark is None else {}
    row = {**row, **said, **kept}
    mark_id = mark or _mark_id(state, _text(form, "mark"))
    typed = _text(form, "typed")[:32] or None
    return recorded(
        desk,
        person,
        dossier,
        Change("mark-set", {"mark": mark_id, "row": row}, typed),
        _text(form, "key"),
    )


def _check_caution(desk: Desk, state: DossierState, row: Mapping[str, Any]) -> None:
    """Refuse what can only be seen behind a caution that nobody has put a name to.

    That something can't be looked at is an answer from outside.
    """
    if row.get("result") == "not-possible":
        return
    now = amp_now(desk, state)
    spot, made = now.amp.spot(str(row["part"])), mark_of_row(0, row)
    look = next((one for one in spot.looks if one.made_by(made)), None) if spot else None
    if spot is not None and look is not None and now.behind_caution(look.level):
        raise Refusal(
            409,
            f"{spot.title} lies behind a caution that nobody has read for this amp",
            "the caution read on the page of the amp, with a name to it; then the same again",
        )


def _withdraw(
    desk: Desk, person: Person, dossier: str, mark: str, form: Mapping[str, Any]
) -> tuple[DossierState, str]:
    state = state_of(desk.db, dossier)
    found = state.mark(mark)
    if found is None:
        raise Refusal(404, "there is no such mark", "one of those listed at the part")
    reason = _text(form, "reason").strip()[:1000]
    data = {"mark": mark} | ({"reason": reason} if reason else {})
    after = recorded(desk, person, dossier, Change("mark-withdrawn", data), _text(form, "key"))
    return after, str(found.row.get("part", ""))


def recorded(desk: Desk, person: Person, dossier: str, change: Change, key: str) -> DossierState:
    """Append; a key that was used for another dossier or by something else is refused."""
    if key and len(key) > 60:
        raise Refusal(422, "a key of more than 60 characters", "a ULID")
    done = append(desk.db, dossier, [change], by=person.by, key=key or None)
    if done.state is None or done.state.id != dossier:
        raise Refusal(409, "this was sent before, for another amp", "a new entry")
    return done.state


def look_sent(form: Mapping[str, Any]) -> Look:
    """The look that the sheet was open for."""
    kind = _text(form, "kind")
    if kind not in KINDS:
        raise Refusal(422, f"kind {kind!r}", "one of " + ", ".join(KINDS))
    feature, quantity = _text(form, "feature") or None, _text(form, "quantity") or None
    if kind == "feature" and feature is None:
        raise Refusal(422, "a feature without its name", "which feature was looked at")
    if kind == "measured" and quantity is None:
        raise Refusal(422, "a measure without its name", "which quantity was measured")
    return Look(
        _text(form, "look") or kind, kind, kind, "outside", feature=feature, quantity=quantity
    )


def _mark_id(state: DossierState, sent: str) -> str:
    """The id that the page gave the mark, for its photos; a fresh one where it is in use."""
    return sent if _ULID.fullmatch(sent) and state.mark(sent) is None else new_id()


async def _after(
    request: Request, desk: Desk, person: Person, state: DossierState, form: Mapping[str, Any]
) -> Response:
    """The pages are told; the one that sent it gets the next sheet, the amp and the strip."""
    strip = await changed(desk, state.id, state)
    part = _text(form, "part")
    if not {"hx-request", "x-outbox-key"} & set(request.headers):
        return RedirectResponse(f"/dossiers/{state.id}", 303)
    return await run_in_threadpool(
        after_page, request, desk, person, state, form, part, strip_html(state, strip)
    )


def after_page(
    request: Request,
    desk: Desk,
    person: Person,
    state: DossierState,
    form: Mapping[str, Any],
    part: str,
    strip: str,
    told: str = "",
) -> Response:
    """The answer to an entry.  ``told``: an event for the page."""
    now = amp_now(desk, state)
    spot = now.amp.spot(part)
    stop = _stop(now, spot, form)
    sheet = sheet_context(desk, Reading.of(person), now, *stop) if stop else None
    view = stop[0].view if stop else spot.view if spot else "front"
    shown = _text(form, "view")
    return render(
        request,
        "entry/after.html",
        headers={"HX-Trigger": told or ("" if stop else "sheet-done")},
        sheet=sheet,
        strip=strip,
        oob=True,
        **{"dossier": state, "now": now, **amp_context(now, shown or view)},
    )


def _stop(now: AmpNow, spot: Spot | None, form: Mapping[str, Any]) -> tuple[Spot, Look] | None:
    if spot is None:
        return None
    look = now.look(spot, _text(form, "look"))
    if _text(form, "stay"):
        from .entry import look_at

        return spot, look or look_at(now, spot, "")
    return next_stop(now, spot, look) if look is not None else None


def _text(form: Mapping[str, Any], name: str) -> str:
    value = form.get(name)
    return value if isinstance(value, str) else ""
