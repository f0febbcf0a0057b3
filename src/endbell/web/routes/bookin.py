"""Booking in: a photo, what it is said to be, whose it is, why it is here; the rest later."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile

from ...dossier.keys import PURPOSES
from ...reference import PackError
from ...reference.types import Model
from ...store import Appended, Change, NumberTaken, append, new_id
from ...store.numbers import dossier_numbered, next_number
from ..claims import date_text, purpose_of, text_of
from ..desk import Desk, desk_of
from ..live import changed
from ..pages import render
from ..photo_uploads import take
from ..refusal import Refusal
from ..rights import Technician
from ..sessions import Person
from .record import ALWAYS

router = APIRouter()

FIELDS = ("number", "claim", "model", "built", "whose", "contact", "why", "purpose")
TRIES = 20
"""Numbers that others may take while one is being given."""

_ULID = re.compile(r"[0-7][0-9A-HJKMNP-TV-Z]{25}")


@dataclass(frozen=True, slots=True)
class Offered:
    """A pack and the models that it has."""

    pack: str
    title: str
    models: tuple[Model, ...]


@router.get("/book-in")
def form(request: Request, person: Technician) -> Response:
    """Four fields and a number."""
    desk = desk_of(request)
    return _page(request, desk, {}, next_number(desk.db, desk.today().year))


@router.post("/book-in")
async def book_in(request: Request, person: Technician) -> Response:
    """A dossier is opened; with a photo, if there is one.

    A number that was only proposed makes way where somebody else has taken it meanwhile; one that
    was typed is refused then.
    """
    desk = desk_of(request)
    async with request.form(max_files=40, max_fields=60) as sent:
        try:
            done = await run_in_threadpool(_open, desk, person, sent)
        except Refusal as error:
            if {"hx-request", "x-outbox-key"} & set(request.headers):
                raise
            return await run_in_threadpool(_again, request, desk, sent, error)
        assert done.state is not None
        state, trouble = done.state, ""
        if _has_photo(sent):
            try:
                state = (await take(desk.db, state.id, sent, person.by)).state
            except Refusal as error:
                trouble = f"?photo={quote(error.found)}"
    await changed(desk, state.id, state)
    headers = {"X-Dossier-Number": state.number}
    address = f"/dossiers/{state.id}{trouble or '?booked=yes'}"
    if request.headers.get("hx-request") == "true":
        return Response(status_code=204, headers={**headers, "HX-Redirect": address})
    return RedirectResponse(address, 303, headers)


def _open(desk: Desk, person: Person, form: FormData) -> Appended:
    dossier = text_of(form, "dossier")
    dossier = dossier if _ULID.fullmatch(dossier) else new_id()
    number, proposed = text_of(form, "number"), text_of(form, "proposed")
    free = not number or number == proposed
    change = _opened(desk, form)
    key = text_of(form, "key")[:60] or None
    year = desk.today().year
    number = number or next_number(desk.db, year)
    for _ in range(TRIES):
        try:
            told = Change("opened", {**change, "number": number})
            return append(desk.db, dossier, [told], by=person.by, key=key)
        except NumberTaken as error:
            if not free or dossier_numbered(desk.db, number) is None:
                raise Refusal(
                    409,
                    f"{number} is another amp's number",
                    f"a number of its own; {next_number(desk.db, year)} is free",
                ) from error
            number = next_number(desk.db, year)
    raise Refusal(409, "others are booking in at this moment", "the same again")


def _opened(desk: Desk, form: FormData) -> dict[str, Any]:
    claim: dict[str, Any] = {}
    packs: list[str] = []
    chosen = text_of(form, "model")
    if chosen:
        pack, _, name = chosen.partition(" ")
        found = next(
            (m for o in _offered(desk) if o.pack == pack for m in o.models if m.id == name), None
        )
        if found is None:
            raise Refusal(422, f"no pack has the model {name!r}", "one of those listed, or none")
        packs, claim = [pack], {"maker": found.maker, "model": found.id}
    built = text_of(form, "built")
    if built:
        claim["built"] = date_text("built", built)
    intake = {
        key: text for key in ("claim", "whose", "contact", "why") if (text := text_of(form, key))
    }
    purpose = purpose_of(form)
    return {
        **({"purpose": purpose} if purpose else {}),
        **({"packs": packs} if packs else {}),
        **({"claim": claim} if claim else {}),
        **({"intake": intake} if intake else {}),
    }


def _offered(desk: Desk) -> list[Offered]:
    """The models that can be chosen, pack by pack; packs that can't be read offer none."""
    out: list[Offered] = []
    for info in desk.packs.available():
        if info.id in ALWAYS:
            continue
        try:
            models = desk.packs.reference((info.id,)).models
        except PackError:
            continue
        if models:
            out.append(Offered(info.id, info.title, models))
    return out


def _again(request: Request, desk: Desk, form: FormData, error: Refusal) -> Response:
    """The page once more with what was typed, and the sentence that says what is amiss."""
    typed = {name: str(form.get(name) or "") for name in FIELDS}
    return _page(request, desk, typed, next_number(desk.db, desk.today().year), error)


def _page(
    request: Request,
    desk: Desk,
    typed: Mapping[str, str],
    proposed: str,
    error: Refusal | None = None,
) -> Response:
    return render(
        request,
        "bookin/page.html",
        status=error.status if error else 200,
        typed={name: typed.get(name, "") for name in FIELDS},
        proposed=proposed,
        offered=_offered(desk),
        purposes=PURPOSES,
        error=error,
        key=new_id(),
        fresh=new_id(),
    )


def _has_photo(form: FormData) -> bool:
    return any(
        isinstance(value, UploadFile) and (value.filename or value.size)
        for _, value in form.multi_items()
    )
