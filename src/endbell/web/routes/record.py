"""What was brought along: claim, intake, what is known, purpose and packs, note, tags, caution."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData

from ...dossier.keys import PURPOSES
from ...store import Change, DossierState, NumberTaken, append, state_of
from ...store.numbers import dossier_numbered
from ..amp_now import AmpNow, amp_now
from ..claims import (
    INTAKE,
    claim_of,
    date_text,
    intake_of,
    names_of,
    packs_of,
    purpose_of,
    text_of,
    texts_of,
)
from ..desk import Desk, desk_of
from ..live import changed_soon
from ..pages import render
from ..refusal import Refusal
from ..rights import Technician
from ..sessions import Person

router = APIRouter()

ALWAYS = ("standards", "common-practice")
"""Packs that apply to every amp and need not be named."""

STALE = "amp-stale"
"""Told to the page where the amp may have got other parts."""


@router.post("/dossiers/{dossier}/record/{what}", include_in_schema=False)
async def save(request: Request, person: Technician, dossier: str, what: str) -> Response:
    """One of the forms about the amp as a whole, saved."""
    form = await request.form()
    return await run_in_threadpool(_save, request, person, dossier, what, form)


def _save(request: Request, person: Person, dossier: str, what: str, form: FormData) -> Response:
    desk = desk_of(request)
    state = state_of(desk.db, dossier)
    change = _change(desk, state, what, form)
    done = record(desk, person, dossier, [change], text_of(form, "key"))
    return record_page(request, desk, done, what, stale=what in ("claim", "head"))


def record_page(
    request: Request, desk: Desk, state: DossierState, opened: str, *, stale: bool = False
) -> Response:
    """The record with the form ``opened`` open; ``stale``: have the page draw the amp anew."""
    now = amp_now(desk, state)
    return render(
        request,
        "dossier/record.html",
        headers={"HX-Trigger": STALE} if stale else {},
        dossier=state,
        now=now,
        opened=opened,
        **record_context(desk, now),
    )


def record(
    desk: Desk, person: Person, dossier: str, changes: list[Change], key: str = ""
) -> DossierState:
    """Append, tell every page, and give the new state."""
    try:
        done = append(desk.db, dossier, changes, by=person.by, key=key or None)
    except NumberTaken as error:
        raise Refusal(409, str(error), "a number that no other amp has") from error
    if done.state is None or done.state.id != dossier:
        raise Refusal(409, "this was sent before, for another amp", "a new entry")
    changed_soon(desk, dossier)
    return done.state


def _change(desk: Desk, state: DossierState, what: str, form: Mapping[str, Any]) -> Change:
    if what == "claim":
        reference = desk.packs.reference(_available(desk))
        return Change("claim-set", {"claim": claim_of(form, reference, state.claim)})
    if what == "intake":
        return Change("intake-set", {"intake": intake_of(form, state.intake)})
    if what == "known":
        made = text_of(form, "made")
        return Change("known-set", {"known": {"made": date_text("made", made)} if made else {}})
    if what == "note":
        return Change("note-set", {"note": text_of(form, "note")})
    if what == "tags":
        return Change("tags-set", {"tags": names_of(text_of(form, "tags"))})
    if what == "closed":
        return Change("reopened" if state.closed else "closed")
    if what == "head":
        return Change("head-set", {"keys": _head(desk, state, form)})
    raise Refusal(404, f"no form is called {what!r}", "claim, intake, known, note, tags, head")


def _head(desk: Desk, state: DossierState, form: Mapping[str, Any]) -> dict[str, Any]:
    number = text_of(form, "number")
    if not number:
        raise Refusal(422, "an amp without a number", "the shop's own number for it")
    taken = dossier_numbered(desk.db, number)
    if taken is not None and taken != state.id:
        raise Refusal(409, f"{number} is another amp's number", "a number of its own")
    chosen = form.getlist("packs") if isinstance(form, FormData) else []
    as_of = text_of(form, "as_of")
    return {
        "number": number,
        "purpose": purpose_of(form),
        "packs": packs_of([str(pack) for pack in chosen], _available(desk)) or None,
        "as_of": as_of or None,
    }


def _available(desk: Desk) -> list[str]:
    return [pack.id for pack in desk.packs.available() if pack.id not in ALWAYS]


def record_context(desk: Desk, now: AmpNow) -> dict[str, Any]:
    """What the template of the record needs."""
    every = desk.packs.reference(_available(desk))
    return {
        "intake_words": INTAKE,
        "purposes": PURPOSES,
        "models": sorted(every.models, key=lambda m: m.title),
        "packs": [pack for pack in desk.packs.available() if pack.id not in ALWAYS],
        "classes": sorted(now.reference.classes.values(), key=lambda c: c.title),
        "assemblies": now.reference.assemblies,
        "claim_original": ", ".join(texts_of(now.state.claim.get("original"))),
        "claim_except": ", ".join(texts_of(now.state.claim.get("except"))),
    }
