"""A file of the shop's own pack as text, checked while it is typed."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...reference.files import HEAD
from ...reference.tables import TABLES
from ...store import new_id
from ...store.shop_packs import pack_file_removed, pack_file_set
from ..desk import desk_of
from ..pack_rows import columns_of
from ..pages import render
from ..refusal import Refusal
from ..rights import Reader, Technician
from ..shop_desk import checked_files, compared, history_of, own_files, record, stamp_of

router = APIRouter(prefix="/packs/{pack}/files")

Text = Annotated[str, Form(max_length=4_000_000)]


@router.get("/{file}")
def editor(request: Request, person: Reader, pack: str, file: str, line: int = 0) -> Response:
    """The file in an editor; one that isn't there yet begins with its heading."""
    desk = desk_of(request)
    files = own_files(desk, pack)
    pack_file_set(pack, file, "")  # refuses a name that can't be a file's
    text = files.get(file)
    table = file.removesuffix(".csv")
    begun = ""
    if text is None and table in TABLES and file.endswith(".csv"):
        begun = ",".join(column.key for column in columns_of(table)) + "\n"
    return _shown(request, pack, file, text if text is not None else begun, text, line=line)


@router.post("/{file}/check")
def check(request: Request, person: Technician, pack: str, file: str, text: Text = "") -> Response:
    """What is wrong with the text as it stands in the field now."""
    desk = desk_of(request)
    files = own_files(desk, pack)
    after = {**files, file: _lines(text, files.get(file))}
    pack_file_set(pack, file, "")  # refuses a name that can't be a file's
    return render(
        request,
        "packs/troubles.html",
        pack=pack,
        file=file,
        checked=checked_files(desk, pack, after),
        same=files.get(file) == after[file],
        form=False,
    )


@router.post("/{file}")
def save(
    request: Request,
    person: Technician,
    pack: str,
    file: str,
    text: Text = "",
    began: Annotated[str, Form(max_length=60)] = "",
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Record the text.  Rows at fault are left out of force; a file nobody could read stays out."""
    desk = desk_of(request)
    files = own_files(desk, pack)
    now = files.get(file)
    text = _lines(text, now)
    if began and stamp_of(now) != began and not _repeated(request, pack, key):
        return _shown(request, pack, file, text, now, status=409, quicker=True)
    if not checked_files(desk, pack, {**files, file: text}).readable:
        return _shown(request, pack, file, text, now, status=422)
    if now != text:
        record(desk, person, [pack_file_set(pack, file, text)], key)
    return RedirectResponse(f"/packs/{pack}/files/{file}", 303)


@router.post("/{file}/remove")
def remove(
    request: Request,
    person: Technician,
    pack: str,
    file: str,
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Take a file out; its history stays, and it can be brought back from there."""
    desk = desk_of(request)
    files = own_files(desk, pack)
    if file == HEAD and len(files) > 1:
        raise Refusal(422, f"{HEAD} of a pack with other files", "the other files taken out first")
    if file in files:
        record(desk, person, [pack_file_removed(pack, file)], key)
    return RedirectResponse(f"/packs/{pack}/history", 303)


def _shown(
    request: Request,
    pack: str,
    file: str,
    text: str,
    now: str | None,
    *,
    status: int = 200,
    line: int = 0,
    quicker: bool = False,
) -> Response:
    """The editor with ``text``; ``now`` is what is recorded."""
    desk = desk_of(request)
    files = own_files(desk, pack)
    last = next((c for c in history_of(desk, pack) if c.file == file and c.in_force), None)
    return render(
        request,
        "packs/editor.html",
        status=status,
        pack=pack,
        file=file,
        files=sorted(files),
        text=text,
        line=line,
        began=stamp_of(now),
        key=new_id(),
        checked=checked_files(desk, pack, {**files, file: text}),
        same=now == text,
        form=False,
        quicker=quicker,
        changes=compared(now, text) if quicker or status == 422 else (),
        last=last,
        before=compared(last.before, last.content) if last else (),
    )


def _repeated(request: Request, pack: str, key: str) -> bool:
    """Whether this very text was recorded before, and only the answer was lost."""
    from ...store import SHOP, events_of

    return bool(key) and any(e.key == key for e in events_of(desk_of(request).db, SHOP))


def _lines(text: str, now: str | None) -> str:
    """Line ends as the file has them: a browser always sends both characters."""
    return text if now is not None and "\r\n" in now else text.replace("\r\n", "\n")
