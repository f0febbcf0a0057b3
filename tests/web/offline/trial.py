"""The real workbench with one page more, whose form meets a server as bad as one could wish.

    python -m web.offline.trial --data DIR --port N

What is typed decides what happens: 'refuse' is refused, 'fault' ends in a fault, 'slow' takes its
time, 'later' is put off while there is a file of that name, 'die' kills the server after it has
recorded and before it has answered (once), anything else is recorded.
"""

from __future__ import annotations

import argparse
import os
import signal
import time
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response, UploadFile
from fastapi.responses import HTMLResponse
from jinja2 import ChoiceLoader, DictLoader

from endbell.store import Change, append, new_id
from endbell.web.desk import desk_of
from endbell.web.pages import environment, render
from endbell.web.refusal import Refusal
from endbell.web.rights import Technician
from endbell.web.serving import Serving
from endbell.web.settings import Settings

from ..running import CHEAP

PAGE = """{% extends "base.html" %}
{% block title %}Trial{% endblock %}
{% block main %}
<h1>Trial</h1>
<p data-part="ot">Output transformer</p>
<div id="answer"></div>
<form id="live" data-outbox="Output transformer" hx-post="/dossiers/{{ dossier }}/trial" hx-target="#answer"
  hx-swap="innerHTML" hx-encoding="multipart/form-data">
  <input type="hidden" name="part" value="ot">
  <label for="text">Code</label><input id="text" name="text" autocomplete="off">
  <label for="photo">Photo</label><input id="photo" name="photo" type="file">
  <button>Enter</button>
</form>
<form id="plain" data-outbox="Plain" method="post" action="/dossiers/{{ dossier }}/trial">
  <label for="plain-text">Plain code</label><input id="plain-text" name="text">
  <button>Enter plainly</button>
</form>
<form method="post" action="/logout"><input type="hidden" name="csrf" value="{{ csrf }}">
<button>Sign out</button></form>
{% endblock %}
"""

router = APIRouter()


@router.get("/dossiers/{dossier}/trial")
def page(request: Request, person: Technician, dossier: str) -> HTMLResponse:
    """The page with the forms."""
    return render(request, "trial.html", dossier=dossier)


@router.post("/dossiers/{dossier}/trial")
async def enter(
    request: Request,
    person: Technician,
    dossier: str,
    key: Annotated[str, Form()],
    typed: Annotated[str, Form()] = "",
    part: Annotated[str, Form()] = "",
    text: Annotated[str, Form()] = "",
    photo: UploadFile | None = None,
) -> Response:
    """Records a mark, or does what the text says."""
    desk = desk_of(request)
    if text.startswith("refuse"):
        raise Refusal(422, f"{text} is no code", "six digits")
    if text.startswith("fault"):
        raise RuntimeError(text)
    if text.startswith("later") and (Path(desk.settings.data) / "later").exists():
        raise Refusal(503, "the server is at something else", "the same again in a moment")
    if text.startswith("slow"):
        time.sleep(0.3)
    row = {"part": part or "ot", "kind": "hand-date", "text": text}
    if photo is not None and photo.filename:
        row["note"] = f"{photo.filename} {len(await photo.read())}"
    change = Change("mark-set", {"mark": new_id(), "row": row}, typed or None)
    append(desk.db, dossier, [change], by=person.by, key=key)
    died = Path(desk.settings.data) / "died"
    if text.startswith("die") and not died.exists():
        died.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return HTMLResponse(f"<p>entered {text}</p>")


def main() -> None:
    """Like ``endbell serve``."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--data", type=Path)
    parser.add_argument("--port", type=int, default=0)
    parser.add_argument("--host", action="append", default=[])
    told = parser.parse_args()
    serving = Serving(Settings(data=told.data, hosts=tuple(told.host), hash_cost=CHEAP), told.port)
    loader = environment().loader
    assert loader is not None
    environment().loader = ChoiceLoader([loader, DictLoader({"trial.html": PAGE})])
    serving.app.include_router(router)
    print(serving.address, flush=True)
    serving.run()


if __name__ == "__main__":
    main()
