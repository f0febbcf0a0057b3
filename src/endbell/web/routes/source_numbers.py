"""Source numbers: who is behind each, when they supplied what; a name given at the bench."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import RedirectResponse

from ...reference.names import NUMBER, SourceNameTaken
from ...store.shop_packs import pack_files
from ..desk import desk_of
from ..pack_library import Library
from ..pack_views import SourceView, address_of, sources_of
from ..pages import render
from ..refusal import Refusal, not_found
from ..rights import Reader, Technician
from ..shop_desk import SHOP_PACK, made, named, set_files
from ..windows import drawn

router = APIRouter(prefix="/packs/sources")


@router.get("")
def sources(request: Request, person: Reader, number: str = "") -> Response:
    """Every source number that a pack knows, and the form that names one."""
    desk = desk_of(request)
    library = Library(desk.packs)
    known = sources_of(library.rows(), library.titles())
    return render(
        request,
        "packs/sources.html",
        sources=known,
        own=list(pack_files(desk.db)) or [SHOP_PACK],
        number=number.strip(),
        address=address_of,
        **drawn([bar for source in known.values() for bar in source.bars]),
    )


@router.post("")
def name_one(
    request: Request,
    person: Technician,
    number: Annotated[str, Form(max_length=10)],
    name: Annotated[str, Form(max_length=200)],
    source: Annotated[str, Form(max_length=500)] = "",
    pack: Annotated[str, Form(max_length=60)] = SHOP_PACK,
    key: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Name a number in one of the shop's own packs; the first name makes the pack."""
    desk = desk_of(request)
    number = number.strip()
    before = pack_files(desk.db).get(pack)
    files = made(desk, pack, "", []) if before is None else before
    try:
        after = named(pack, files, number, name, source)
    except SourceNameTaken as error:
        there = error.taken
        line = f" ({pack}, line {there.line})" if there.line else f" ({pack})"
        raise Refusal(
            409,
            f"{number} is already named '{there.there}'{line}",
            "another name after the row is changed there",
        ) from None
    set_files(desk, person, pack, before or {}, after, key)
    return RedirectResponse(f"/packs/sources/{number}", 303)


@router.get("/{number}")
def source(request: Request, person: Reader, number: str) -> Response:
    """One source number; one that nobody knows can be named here."""
    desk = desk_of(request)
    if not NUMBER.fullmatch(number):
        raise not_found("such source number: two to four digits make one")
    library = Library(desk.packs)
    known = sources_of(library.rows(), library.titles())
    this = known.get(number) or SourceView(number, (), ())
    numbers = list(known)
    at = numbers.index(number) if number in known else None
    return render(
        request,
        "packs/source.html",
        source=this,
        own=list(pack_files(desk.db)) or [SHOP_PACK],
        shop_rows=[row for _, row in this.names if row.pack in pack_files(desk.db)],
        before=numbers[at - 1] if at else "",
        after=numbers[at + 1] if at is not None and at + 1 < len(numbers) else "",
        address=address_of,
        **drawn(list(this.bars)),
    )
