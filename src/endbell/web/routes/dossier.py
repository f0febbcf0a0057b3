"""The dossier page: strip, amp, what next, time line, why, parts, and what was brought along."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Request, Response

from ...report.amp import STATE_WORDS, Spot
from ...report.amp_drawing import amp_svg, sign
from ...report.amp_layout import VIEWS
from ...store import Change, append, state_of
from ..amp_now import AmpNow, amp_now
from ..claims import texts_of
from ..desk import desk_of
from ..live import changed_soon
from ..pages import render
from ..refusal import Refusal
from ..rights import Reader, Technician
from ..typed_mark import mark_of_row, shown
from . import dossier_parts, record

router = APIRouter()
router.include_router(record.router)
router.include_router(dossier_parts.router)

VIEW_WORDS = {"front": "Front", "back": "Back", "chassis": "Chassis", "papers": "Papers"}
OPENED_BY = {"back": "back-off", "chassis": "chassis-out"}
"""What has to come off or out before a view can be seen."""

READ = "caution-read"
"""Told to the page when a caution has been acknowledged."""

SIGNS = tuple((sign(state), words) for state, words in STATE_WORDS.items())


@router.get("/dossiers/{dossier}")
def page(
    request: Request,
    person: Reader,
    dossier: str,
    view: str = "front",
    booked: str = "",
    photo: str = "",
) -> Response:
    """The page of one amp.  ``booked``: opened just now; ``photo``: why its photo was refused."""
    desk = desk_of(request)
    state = state_of(desk.db, dossier)
    now = amp_now(desk, state)
    return render(
        request,
        "dossier/page.html",
        dossier=state,
        now=now,
        title=_title(now),
        booked=bool(booked or photo),
        photo_trouble=photo[:300],
        said=str(state.intake.get("claim") or ""),
        claimed=claim_line(now),
        shown=lambda row: shown(mark_of_row(0, row)),
        photos=[photo for photo in state.photos if not photo.withdrawn],
        withdrawn=[mark for mark in state.marks if mark.withdrawn],
        **amp_context(now, view),
        **record.record_context(desk, now),
    )


@router.get("/dossiers/{dossier}/amp")
def amp(request: Request, person: Reader, dossier: str, view: str = "front") -> Response:
    """One view of the amp: its drawing, and the same spots as a list."""
    desk = desk_of(request)
    now = amp_now(desk, state_of(desk.db, dossier))
    return render(request, "dossier/amp.html", dossier=now.state, now=now, **amp_context(now, view))


@router.post("/dossiers/{dossier}/cautions")
def acknowledge(
    request: Request,
    person: Technician,
    dossier: str,
    level: str = Form(""),
    name: str = Form(""),
    key: str = Form(""),
    view: str = Form("chassis"),
    part: str = Form(""),
    look: str = Form(""),
) -> Response:
    """Somebody has read a caution and puts a name to it."""
    desk = desk_of(request)
    name = name.strip()
    if not name:
        raise Refusal(422, "a caution read by nobody", "the name of whoever opens the amp")
    before = amp_now(desk, state_of(desk.db, dossier))
    if level not in before.reference.cautions:
        raise Refusal(422, f"no caution for {level!r}", ", ".join(before.reference.cautions))
    change = Change("caution-acknowledged", {"level": level, "name": name[:200]})
    done = append(desk.db, dossier, [change], by=person.by, key=key or None)
    changed_soon(desk, dossier)
    state = done.state
    assert state is not None
    if part:
        from .marks import after_page

        form = {"part": part, "look": look, "stay": "yes"}
        return after_page(request, desk, person, state, form, part, "", told=READ)
    now = amp_now(desk, state)
    told = {"HX-Trigger": READ}
    return render(
        request, "dossier/amp.html", headers=told, dossier=state, now=now, **amp_context(now, view)
    )


def amp_context(now: AmpNow, view: str) -> dict[str, Any]:
    """What the template of the amp needs for one view."""
    view = view if view in VIEWS else "front"
    level = OPENED_BY.get(view)
    spots = now.amp.of(view)

    def link(spot: Spot) -> dict[str, str]:
        return {
            "href": f"/dossiers/{now.state.id}/spots/{quote(spot.part)}",
            "data-sheet": "",
            "data-spot": spot.part,
        }

    caution = now.behind_caution(level) if level else None
    return {
        "view": view,
        "views": [(v, VIEW_WORDS[v], _tally(now, v)) for v in VIEWS],
        "spots": spots,
        "drawing": "" if caution else amp_svg(now.amp, view, link),
        "caution": caution,
        "caution_level": level,
        "note": now.reference.cautions.get(level or "") if not caution else None,
        "read": [a for a in now.state.acknowledged if a.level == level],
        "sign": sign,
        "signs": SIGNS,
    }


def claim_line(now: AmpNow) -> str:
    """What is judged of it, in one line: 'built 1964, everything original but valves (seller)'."""
    claim = now.state.claim
    built = str(claim.get("built") or "")
    said = [f"built {built}"] if built else []
    if claim.get("original"):
        less = texts_of(claim.get("except"))
        but = f" but {', '.join(less)}" if less else ""
        said.append(f"{', '.join(texts_of(claim['original']))} original{but}")
    line = ", ".join(said)
    by = claim.get("by")
    return f"{line} ({by})" if line and by else line


def _title(now: AmpNow) -> str:
    if now.model is not None:
        return now.model.title
    named = [str(now.state.claim.get(key) or "") for key in ("maker", "model")]
    return " ".join(filter(None, named)) or "Amp of no known model"


def _tally(now: AmpNow, view: str) -> str:
    """'3 of 12' looked at."""
    spots = now.amp.of(view)
    return f"{sum(spot.state != 'unseen' for spot in spots)} of {len(spots)}"
