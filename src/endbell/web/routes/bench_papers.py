"""What leaves the bench: the service report as page and PDF, the sheet as a file, its charts."""

from __future__ import annotations

import asyncio
import re
from html import unescape

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse

from ...bench.service import ServiceRecord
from ...report.service import service_page, service_pdf
from ...store import DossierState
from ..amp_now import amp_now
from ..as_file import file_of
from ..bench_charts import charts
from ..bench_desk import now_of, parts_of
from ..bench_now import Parts, form_of
from ..bench_repairs import record_of
from ..desk import Desk, desk_of
from ..refusal import not_found
from ..rights import Reader
from .live import state_now

router = APIRouter(include_in_schema=False)

_META = re.compile(r'http-equiv="Content-Security-Policy" content="([^"]*)"')


@router.get("/dossiers/{dossier}/bench/service")
async def report(request: Request, person: Reader, dossier: str) -> Response:
    """The service report on one page that can be printed or kept."""
    record = await _record(request, dossier)
    html = await asyncio.to_thread(service_page, record)
    policy = _META.search(html)
    headers = {"Content-Security-Policy": unescape(policy[1])} if policy else {}
    return HTMLResponse(html, headers=headers)


@router.get("/dossiers/{dossier}/bench/service.pdf")
async def pdf(request: Request, person: Reader, dossier: str) -> Response:
    """The service report with the custody record to sign, as a PDF."""
    record = await _record(request, dossier)
    made = await asyncio.to_thread(service_pdf, record)
    headers = {"Content-Disposition": f'inline; filename="service-{dossier}.pdf"'}
    return Response(made, media_type="application/pdf", headers=headers)


@router.get("/dossiers/{dossier}/bench/sheet.toml")
async def sheet(request: Request, person: Reader, dossier: str) -> Response:
    """The bench sheet as a file, as ``endbell bench`` reads it."""
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    parts = await parts_of(desk, state)
    await asyncio.to_thread(now_of, desk, state, parts)
    text = await asyncio.to_thread(lambda: file_of(form_of(state, desk.packs.now().search)))
    headers = {"Content-Disposition": f'attachment; filename="{dossier}.bench.toml"'}
    return Response(text, media_type="application/toml", headers=headers)


@router.get("/dossiers/{dossier}/bench/charts/{chart}.json")
async def chart(request: Request, person: Reader, dossier: str, chart: str) -> Response:
    """One chart of what was measured, as a Vega-Lite specification with its data."""
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    parts = await parts_of(desk, state)
    now = await asyncio.to_thread(now_of, desk, state, parts)
    found = next((c for c in charts(now.result) if c.id == chart), None)
    if found is None:
        raise not_found("such chart")
    return JSONResponse(dict(found.spec))


async def _record(request: Request, dossier: str) -> ServiceRecord:
    desk = desk_of(request)
    state = await state_now(desk, dossier)
    parts = await parts_of(desk, state)
    return await asyncio.to_thread(_made, desk, state, parts)


def _made(desk: Desk, state: DossierState, parts: Parts) -> ServiceRecord:
    now = now_of(desk, state, parts)
    amp = amp_now(desk, state)
    titles = {spot.part: spot.title for spot in amp.amp.spots}
    title = amp.model.title if amp.model else now.result.circuit.title
    return record_of(state, now.result, title, titles)
