"""The entry sheet of a spot, and what is said while something is typed there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool

from ...marks.outcome import LEGIBILITIES
from ...report.amp import Spot
from ...report.amp_looks import Look
from ...store import DossierState, new_id, state_of
from ...store.accounts import names_of
from ...store.state import MarkRow
from ..amp_now import AmpNow, amp_now, reference_of
from ..desk import Desk, desk_of
from ..live import preview, strip_html
from ..meaning import meaning
from ..pads import pad_of
from ..pages import render
from ..reader import Reading
from ..refusal import Refusal
from ..rights import Reader, Technician
from ..typed_mark import Sent, form_with, mark_of_row, row_of, sent_of, shown

router = APIRouter()

LEGIBLE = {"clear": "Clear", "worn": "Worn", "poor": "Poor"}
assert tuple(LEGIBLE) == LEGIBILITIES

ANSWERS = {
    "illegible": ("Illegible", "there, but can't be read"),
    "nothing-found": ("Nothing there", "looked for, not there"),
    "not-possible": ("Not possible", "could not be looked at"),
}
"""What a look can come to besides a text."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A mark already on the part, as the sheet lists it."""

    mark: MarkRow
    title: str
    typed: str
    who: str
    changeable: bool


@router.get("/dossiers/{dossier}/spots/{part:path}")
def sheet(
    request: Request,
    person: Reader,
    dossier: str,
    part: str,
    look: str = "",
    mark: str = "",
    check: str = "",
) -> Response:
    """What can be entered at a spot; ``mark``: to word an entry anew; ``check``: a next check."""
    desk = desk_of(request)
    now = amp_now(desk, state_of(desk.db, dossier))
    spot = spot_at(now, part)
    entry = now.state.mark(mark) if mark else None
    if check and not look:
        look = next((one.id for one in spot.looks if one.check == check), "")
    chosen = look_at(now, spot, look, entry)
    whole = request.headers.get("hx-request") != "true"
    return render(
        request,
        "entry/page.html" if whole else "entry/sheet.html",
        **sheet_context(desk, Reading.of(person), now, spot, chosen, entry),
    )


@router.post("/dossiers/{dossier}/preview", include_in_schema=False)
async def while_typing(request: Request, person: Technician, dossier: str) -> Response:
    """What a mark means so far, and the strip as it would be with it.  Nothing is recorded."""
    desk = desk_of(request)
    form = await request.form()
    state, reads, row = await run_in_threadpool(_typed, desk, dossier, form)
    says = await run_in_threadpool(_meaning, desk, state, row)
    strip = ""
    if reads(says.state):
        tables = form_with(state, row, _text(form, "change") or None)
        strip = strip_html(state, await preview(desk, state, tables, person.session))
    key = _text(form, "key")
    return render(request, "entry/meaning.html", says=says, strip=strip, key=key, dossier=state)


def _typed(desk: Desk, dossier: str, form: Mapping[str, Any]) -> tuple[DossierState, Any, Any]:
    state = state_of(desk.db, dossier)
    look = _sent_look(form)
    row = row_of(sent_of(form), _text(form, "part"), look)
    return state, lambda state: state in ("reads", "partial"), row


def _meaning(desk: Desk, state: DossierState, row: Mapping[str, Any]) -> Any:
    from ...dossier.parts import known_part
    from ...report.amp_parts import model_of

    reference = reference_of(desk, state.packs)
    mark = mark_of_row(0, row)
    own = next((r for r in state.parts if r.get("id") == mark.part and r.get("class")), None)
    known = known_part(mark.part, reference)
    part_class = str(own["class"]) if own else known.part_class if known else ""
    return meaning(mark, part_class, reference, model_of(state.claim.get("model"), reference))


def spot_at(now: AmpNow, part: str) -> Spot:
    """The spot of a part, or a refusal that says which there are."""
    spot = now.amp.spot(part)
    if spot is None:
        raise Refusal(404, f"no part is called {part!r} here", "a spot of this amp")
    return spot


def look_at(now: AmpNow, spot: Spot, look: str, entry: MarkRow | None = None) -> Look:
    """The look that was asked for, that an entry came from, or the first one not yet made."""
    if entry is not None:
        mark = mark_of_row(0, entry.row)
        found = next((one for one in spot.looks if one.made_by(mark)), None)
        return found or Look(mark.kind, mark.kind, mark.kind.replace("-", " "), "outside")
    found = now.look(spot, look)
    if found is not None:
        return found
    if not spot.looks:
        return Look("hand-date", "hand-date", "date by hand", "outside")
    if any(m.part == spot.part for m in now.marks):
        free = [one for one in spot.looks if not now.made(spot, one)]
    else:
        free = list(spot.looks)
    within = [one for one in free if not now.behind_caution(one.level)]
    return (within or free or list(spot.looks))[0]


def sheet_context(
    desk: Desk,
    reading: Reading,
    now: AmpNow,
    spot: Spot,
    look: Look,
    entry: MarkRow | None = None,
) -> dict[str, Any]:
    """What the template of the sheet needs."""
    state, model = now.state, now.model
    caution = now.behind_caution(look.level)
    mark = mark_of_row(0, entry.row) if entry is not None else None
    return {
        "dossier": state,
        "now": now,
        "spot": spot,
        "look": look,
        "looks": [(one, now.made(spot, one)) for one in spot.looks],
        "pad": pad_of(look, now.reference, model, inches=reading.units == "inch"),
        "legible": LEGIBLE,
        "answers": ANSWERS,
        "entry": entry,
        "typed": _fields(entry),
        "mark": mark,
        "entries": _entries(desk, now, spot),
        "caution": caution,
        "caution_level": look.level,
        "place": "sheet",
        "key": new_id(),
        "fresh": new_id(),
        "level_words": now.reference.levels,
        "says": meaning(mark, spot.part_class, now.reference, model) if mark else None,
        "photos": [p for p in state.photos if p.part == spot.part and not p.withdrawn],
    }


def _fields(entry: MarkRow | None) -> Sent:
    """The fields of an entry as they were typed."""
    if entry is None:
        return Sent()
    row = entry.row
    kept = {name: f"{row[name]}" for name in Sent.__dataclass_fields__ if row.get(name) is not None}
    if row.get("kind") == "condition":
        kept["value"] = str(row.get("text") or row.get("value") or "")
    if row.get("kind") == "feature" and row.get("result") == "absent":
        kept |= {"value": "absent", "result": "seen"}
    return Sent(**kept)


def _entries(desk: Desk, now: AmpNow, spot: Spot) -> list[Entry]:
    """The marks on the part that stand, the newest first."""
    names = names_of(desk.db)
    found = [mark for mark in now.state.standing if mark.row.get("part") == spot.part]
    out: list[Entry] = []
    for mark in sorted(found, key=lambda m: -m.n):
        seen = mark_of_row(0, mark.row)
        look = next((one for one in spot.looks if one.made_by(seen)), None)
        title = look.title if look else seen.kind.replace("-", " ")
        out.append(Entry(mark, title, shown(seen), names.get(mark.by, mark.by), True))
    return out


def _sent_look(form: Mapping[str, Any]) -> Look:
    """The look that a form says it comes from; the readers judge what it says."""
    kind = _text(form, "kind") or "hand-date"
    feature, quantity = _text(form, "feature") or None, _text(form, "quantity") or None
    return Look(kind, kind, kind, "outside", feature=feature, quantity=quantity)


def _text(form: Mapping[str, Any], name: str) -> str:
    value = form.get(name)
    return value if isinstance(value, str) else ""
