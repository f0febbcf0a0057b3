"""What belongs to oneself: how pages look, the password, devices, where one is signed in."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...store.accounts import ROLES, set_settings
from ...store.sessions import end_session, end_sessions, name_device, sessions_of
from ...store.tokens import tokens_of
from ..desk import desk_of
from ..pages import render
from ..reader import DATES, THEMES, UNITS
from ..refusal import Refusal, not_found
from ..rights import Reader
from ..sessions import Person
from ..words import ROLE_WORDS

router = APIRouter(prefix="/settings", include_in_schema=False)

Text = Annotated[str, Form(max_length=200)]
DONE = {
    "pages": "Pages look like that from now on.",
    "password": "The password is changed; every other session has ended.",
    "device": "The device is named.",
    "session": "Signed out there.",
    "token": "The token opens nothing any more.",
}


@router.get("")
def settings_page(request: Request, person: Reader, done: str = "") -> Response:
    """Everything that is one's own."""
    return settings_page_with(request, person, done=DONE.get(done, ""))


@router.post("")
def set_pages(
    request: Request, person: Reader, theme: Text = "", units: Text = "", dates: Text = ""
) -> Response:
    """How pages look."""
    chosen = {"theme": theme, "units": units, "dates": dates}
    for name, table in (("theme", THEMES), ("units", UNITS), ("dates", DATES)):
        if chosen[name] not in table:
            raise Refusal(422, f"{name} is {chosen[name]!r:.60}", ", ".join(table), place=name)
    set_settings(desk_of(request).db, person.account, {**person.settings, **chosen})
    return RedirectResponse("/settings?done=pages", 303)


@router.post("/device")
def set_device(request: Request, person: Reader, name: Text = "") -> Response:
    """What this device is called in the history of a dossier."""
    name = " ".join(name.split())
    if not name or not name.isprintable() or len(name) > 80:
        raise Refusal(422, "a device without a name", "1 to 80 letters", place="name")
    if not person.session:
        raise not_found("device")
    name_device(desk_of(request).db, person.device, name)
    return RedirectResponse("/settings?done=device", 303)


@router.post("/sessions/{session}/end")
def end_one(request: Request, person: Reader, session: str) -> Response:
    """Sign out somewhere else."""
    desk = desk_of(request)
    if not end_session(desk.db, person.account, session, by=person.account, now=desk.now()):
        raise not_found("such session")
    return RedirectResponse("/settings?done=session", 303)


@router.post("/sessions/end")
def end_others(request: Request, person: Reader) -> Response:
    """Sign out everywhere but here."""
    desk = desk_of(request)
    end_sessions(desk.db, person.account, by=person.account, but=person.session, now=desk.now())
    return RedirectResponse("/settings?done=session", 303)


def settings_page_with(
    request: Request,
    person: Person,
    status: int = 200,
    refusal: str = "",
    done: str = "",
    token: str = "",
) -> Response:
    """The page, with what was just done or refused; ``token``: one made now, shown this once."""
    desk = desk_of(request)
    return render(
        request,
        "accounts/settings.html",
        status,
        themes=THEMES,
        units=UNITS,
        dates=DATES,
        sessions=sessions_of(desk.db, person.account, idle=desk.settings.idle, now=desk.now()),
        tokens=tokens_of(desk.db, person.account),
        roles=ROLES[: ROLES.index(person.role) + 1],
        role_words=ROLE_WORDS,
        refusal=refusal,
        done=done,
        token=token,
    )
