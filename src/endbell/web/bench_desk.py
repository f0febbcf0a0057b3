"""What every route of the bench does: the sheet as it is now, a change recorded, the page again."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import Request, Response

from ..bench.kinds import line_kinds
from ..bench.limits import PRACTICES
from ..bench.stages import Stage
from ..dossier.errors import DossierError
from ..store import Change, DossierState, append, new_id
from .amp_now import amp_now, reference_of
from .bench_charts import charts
from .bench_now import (
    CAUTION,
    BenchNow,
    NoCircuit,
    Parts,
    bench_now,
    circuit_names,
    why_held,
    with_readings,
)
from .bench_repairs import RepairsShown, repairs_shown
from .bench_typed import trouble_of, units_for
from .bench_view import causes, cautions_of, current, next_steps, sections, shown
from .desk import Desk
from .live import changed, strip_of
from .pages import render
from .refusal import Refusal
from .sessions import Person


async def parts_of(desk: Desk, state: DossierState) -> Parts:
    """What the verdict in brief says of the parts; nothing where there is no verdict."""
    strip = await strip_of(desk, state)
    original = {part: p for part, (_, p) in strip.parts.items()}
    year = strip.mode_year
    years = {part: year for part, p in original.items() if p > 0.5} if year else {}
    return Parts(original, years)


def now_of(desk: Desk, state: DossierState, parts: Parts) -> BenchNow:
    """The sheet computed; refuses where there is no circuit to hold it against."""
    try:
        return bench_now(state, desk.packs.now().search, parts)
    except DossierError as error:
        raise Refusal(409, error.sentence, "a circuit chosen at the head of the bench") from error


def refuse_unless_open(
    desk: Desk, now: BenchNow, rows: Sequence[Mapping[str, Any]], parts: Parts
) -> None:
    """Refuse readings that may not be taken yet, and readings that can't be used."""
    for n, found, accepted, status in troubles(desk, now, rows, parts):
        said = f"row {n}: {found}" if len(rows) > 1 else found
        raise Refusal(status, said, accepted)


def troubles(
    desk: Desk, now: BenchNow, rows: Sequence[Mapping[str, Any]], parts: Parts
) -> list[tuple[int, str, str, int]]:
    """Which of ``rows`` can't be recorded: number from 1, why, what would do, a status."""
    kinds = line_kinds()
    out: list[tuple[int, str, str, int]] = []
    result = with_readings(now.state, rows, desk.packs.now().search, parts)
    before = len(now.state.bench.standing("readings"))
    held = {n: h for h in result.held for n in h.readings}
    for i, row in enumerate(rows, start=1):
        line, at = str(row.get("line", "")), str(row.get("at", ""))
        kind = kinds.get(line)
        powered = kind is not None and (kind.powered or kind.stage.powered)
        name = f"{kind.title}{f' at {at}' if at else ''}" if kind else line
        if before + i in held:
            why = why_held(result, line, held[before + i].at)
            what = "needs power" if powered else "comes later"
            accepted = "those first, or each let pass by name with a reason"
            out.append((i, f"{name} {what}, and waits for: {why}", accepted, 409))
        elif powered and now.cautioned:
            found = f"{name} needs power, and nobody has read the caution before the first power"
            out.append((i, found, "the caution read, with a name to it", 409))
        else:
            found, accepted = trouble_of(result, before + i)
            if found:
                out.append((i, found, accepted, 422))
    return out


def noted(
    desk: Desk, person: Person, dossier: str, changes: Sequence[Change], key: str = ""
) -> DossierState:
    """Append; a key that was used for another dossier is refused."""
    if len(key) > 60:
        raise Refusal(422, "a key of more than 60 characters", "a ULID")
    done = append(desk.db, dossier, changes, by=person.by, key=key or None)
    if done.state is None or done.state.id != dossier:
        raise Refusal(409, "this was sent before, for another amp", "a new entry")
    return done.state


async def after(
    request: Request, desk: Desk, state: DossierState, *, line: str = "", at: str = "", **more: Any
) -> Response:
    """Tell every page, and answer with the bench as it is now.

    ``line``, ``at``: what was just entered; the next step comes after it.
    """
    await changed(desk, state.id, state)
    last = f"{line}@{at}" if at else line
    return await bench_page(request, desk, state, after=last, **more)


async def bench_page(
    request: Request,
    desk: Desk,
    state: DossierState,
    *,
    whole: bool = False,
    line: str = "",
    at: str = "",
    after: str = "",
    **more: Any,
) -> Response:
    """The bench: as a page (``whole``) or as the piece of it that changes."""
    parts = await parts_of(desk, state)
    context = await asyncio.to_thread(_context, desk, state, parts, line, at, after)
    template = "bench/page.html" if whole else "bench/bench.html"
    return render(request, template, dossier=state, **{**context, **more})


def _context(
    desk: Desk, state: DossierState, parts: Parts, line: str, at: str, after: str
) -> dict[str, Any]:
    folders = desk.packs.now().search
    reference = reference_of(desk, state.packs)
    head = {
        "practices": PRACTICES,
        "circuits": circuit_names(folders),
        "head": state.bench.head,
        "new_id": new_id,
        "imported": None,
        "today": desk.today().isoformat(),
        "opened": "",
        "classes": sorted(reference.classes.values(), key=lambda c: c.title),
    }
    repairs = repaired(desk, state)
    try:
        now = bench_now(state, folders, parts)
    except DossierError as error:
        trouble = "" if isinstance(error, NoCircuit) else error.sentence
        return {**head, "now": None, "trouble": trouble, "repairs": repairs}
    step = current(now, line, at, after)
    keys = [one.key for one in now.steps]
    place = keys.index(step.key) if step else -1
    units, unit = units_for(step.line, _last_unit(now, step.line.id)) if step else ((), "")
    return {
        **head,
        "now": now,
        "trouble": "",
        "sections": sections(now),
        "step": step,
        "before": now.steps[place - 1] if step and place > 0 else None,
        "behind": now.steps[place + 1] if step and place + 1 < len(keys) else None,
        "was": shown(now, step.line) if step and step.line.value is not None else None,
        "units": units,
        "unit": unit,
        "next_steps": next_steps(now),
        "causes": causes(now),
        "power_cautions": (*cautions_of(Stage.SAFETY)[1:], *cautions_of(Stage.LIMITED)),
        "caution_level": CAUTION,
        "repairs": repairs,
        "drawn": charts(now.result),
        "overrides": state.bench.standing("overrides"),
        # what was let pass is listed with a button beside it
        "remarks": [text for text in now.result.remarks if " was let pass by " not in text],
    }


def repaired(desk: Desk, state: DossierState) -> RepairsShown:
    """What was replaced, and the bags."""
    return repairs_shown(state, {s.part: s.title for s in amp_now(desk, state).amp.spots})


def _last_unit(now: BenchNow, line: str) -> str:
    """The unit in which that line was read last."""
    rows = [r.row for r in now.state.bench.standing("readings") if r.row.get("line") == line]
    return str(rows[-1].get("unit") or "") if rows else ""
