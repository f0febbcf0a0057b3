"""Import: an export of a workbench, or a table of marks; looked at first, then taken in."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from pathlib import Path
from typing import Any

from anyio import to_thread
from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse
from starlette.datastructures import FormData, UploadFile

from ...batch.fields import BY_NAME, IGNORED
from ...store.importing import check_import, import_export
from ...store.photos_files import write_whole
from ..desk import Desk, desk_of
from ..import_files import (
    Import,
    Progress,
    bad_rows_of,
    begin,
    file_of,
    hand_in,
    import_of,
    imports,
    progress_of,
    save,
)
from ..pages import render
from ..refusal import Refusal, not_found
from ..rights import Owner
from ..table_import import LISTED, Looked, bad_rows_csv, look, record, undo

router = APIRouter()

SHOWN_IMPORTS = 20


@router.get("/import")
def page(request: Request, person: Owner) -> Response:
    """What can be imported, and what was."""
    desk = desk_of(request)
    earlier = [one for _, one in zip(range(SHOWN_IMPORTS), imports(desk), strict=False)]
    return render(request, "importing/index.html", earlier=earlier)


@router.post("/import")
async def send(request: Request, person: Owner) -> Response:
    """Take a file in; nothing of it is recorded yet."""
    desk = desk_of(request)
    async with request.form(max_files=1) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile) or not file.size:
            raise Refusal(422, "no file was sent, or an empty one", "an export, or a table as CSV")
        by = person.account
        one = await to_thread.run_sync(hand_in, desk, file.file, file.filename or "table.csv", by)
    if one.kind == "export":
        _begin_check(desk, one)
    return RedirectResponse(f"/import/{one.id}", 303)


@router.get("/import/{import_id}")
def show(request: Request, person: Owner, import_id: str) -> Response:
    """How far an import is; for a table, how it is understood."""
    desk = desk_of(request)
    one = _one(desk, import_id)
    looked, trouble = None, ""
    if one.kind == "table" and one.state == "new":
        try:
            looked = look(desk, file_of(desk, one), one.given)
        except ValueError as error:
            trouble = str(error)
    return _shown(request, desk, one, looked, trouble)


@router.get("/import/{import_id}/progress")
def progress(request: Request, person: Owner, import_id: str) -> Response:
    """The bar alone; a page that sees its work done loads itself anew."""
    desk = desk_of(request)
    one = _one(desk, import_id)
    step = progress_of(desk, one)
    if step is None:
        return Response(status_code=204, headers={"HX-Refresh": "true"})
    return render(request, "importing/progress.html", one=one, step=step)


@router.post("/import/{import_id}/columns")
async def columns(request: Request, person: Owner, import_id: str) -> Response:
    """Say what the columns are; the page shows what follows from it."""
    desk = desk_of(request)
    one = _one(desk, import_id)
    one.given = _told(await request.form())
    if one.state == "new":
        await to_thread.run_sync(save, desk, one)
    return RedirectResponse(f"/import/{import_id}", 303)


@router.post("/import/{import_id}/begin")
async def start(request: Request, person: Owner, import_id: str) -> Response:
    """Take it in.  Asked for twice, it is done once."""
    desk = desk_of(request)
    one = _one(desk, import_id)
    form = await request.form()
    path = file_of(desk, one)
    if one.kind == "table" and one.state == "new":
        one.given = _told(form) or one.given

        def work(step: Progress) -> None:
            done = record(desk, path, one.name, one.sha256, one.given, one.attempt, person.by, step)
            _table_done(desk, one, done)

        begin(desk, one, work)
    elif one.kind == "export" and one.state in ("checked", "new"):
        leave = form.get("leave_apart") == "yes"

        def take(step: Progress) -> None:
            plan = import_export(desk.db, path, leave_apart=leave, step=step)
            one.plan = asdict(plan)
            one.says = "Everything in it is here now."
            path.unlink(missing_ok=True)

        begin(desk, one, take)
    return RedirectResponse(f"/import/{import_id}", 303)


@router.post("/import/{import_id}/undo")
def take_back(request: Request, person: Owner, import_id: str) -> Response:
    """Take back what a table brought; dossiers that were worked in since are left."""
    desk = desk_of(request)
    one = _one(desk, import_id)
    if one.kind == "table" and one.state == "done":

        def work(step: Progress) -> None:
            back, left = undo(desk, one.made, one.id, person.by, step)
            one.state = "undone"
            one.says = f"{back:,} taken back"
            one.says += f"; {left:,} left, since somebody worked in them" if left else ""

        begin(desk, one, work)
    return RedirectResponse(f"/import/{import_id}", 303)


@router.get("/import/{import_id}/bad-rows.csv")
def bad_rows(request: Request, person: Owner, import_id: str) -> Response:
    """The rows that are not weighed, as a table."""
    desk = desk_of(request)
    one = _one(desk, import_id)
    path: Path = bad_rows_of(desk, one)
    data = path.read_bytes() if path.is_file() else bad_rows_csv(())
    headers = {"Content-Disposition": 'attachment; filename="bad-rows.csv"'}
    return Response(data, media_type="text/csv; charset=utf-8", headers=headers)


def _begin_check(desk: Desk, one: Import) -> None:
    def work(step: Progress) -> None:
        one.plan = asdict(check_import(desk.db, file_of(desk, one), step=step))
        one.state = "checked"

    begin(desk, one, work)


def _table_done(desk: Desk, one: Import, done: Looked) -> None:
    write_whole(bad_rows_of(desk, one), bad_rows_csv(done.bad))
    one.made, one.bad = done.made, len(done.bad)
    dossiers = "1 dossier" if done.dossiers == 1 else f"{done.dossiers:,} dossiers"
    marks = "1 mark" if done.marks == 1 else f"{done.marks:,} marks"
    one.says = f"{dossiers} with {marks} imported"
    one.says += f"; {done.again:,} had been imported before" if done.again else ""


def _shown(
    request: Request, desk: Desk, one: Import, looked: Looked | None, trouble: str
) -> Response:
    step = progress_of(desk, one)
    kinds = Counter(row.found for row in looked.bad) if looked else Counter[str]()
    context: dict[str, Any] = {
        "one": one,
        "step": step,
        "looked": looked,
        "trouble": trouble,
        "bad": looked.bad[:LISTED] if looked else [],
        "bad_kinds": len(kinds),
        "fields": {name: field.words for name, field in BY_NAME.items()},
        "ignored": IGNORED,
    }
    return render(request, "importing/show.html", **context)


def _told(form: FormData) -> dict[str, str]:
    """The selects of the page: number of the column -> field."""
    out: dict[str, str] = {}
    for name, value in form.items():
        number = name.removeprefix("column-")
        if name.startswith("column-") and number.isdigit() and isinstance(value, str):
            if value not in BY_NAME and value != IGNORED:
                raise Refusal(422, f"column {number} as {value!r:.60}", "a field of the list")
            out[number] = value
    return out


def _one(desk: Desk, import_id: str) -> Import:
    one = import_of(desk, import_id)
    if one is None:
        raise not_found("such import")
    return one
