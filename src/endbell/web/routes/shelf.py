"""The shelf: every dossier, searched while typing, filtered, sorted, with its strip in small."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from markupsafe import Markup

from ...dossier.keys import PURPOSES
from ...store import new_id
from ...store.listing import PAGE, Listed, listed, tags_in_use
from ...store.search import lines_with
from ...store.shelf_rows import choices, current_strips
from ...store.views import views_of
from ..desk import Desk, desk_of
from ..pack_library import Library
from ..pages import render
from ..rights import Reader
from ..shelf_query import FIELDS, query_from
from ..shelf_query import Query as Asked
from ..shelf_strips import want_strips
from ..small_strip import small_strip, time_line
from . import shelf_bulk

router = APIRouter()
router.include_router(shelf_bulk.router)

COLUMNS = (
    ("number", "number"),
    ("year", "build date"),
    ("claim", "claim"),
    ("whose", "whose"),
    ("marks", "marks"),
    ("changed", "last change"),
)
SORTS = (*COLUMNS, ("model", "model"), ("sure", "how sure the year is"), ("opened", "booked in"))


@dataclass(frozen=True, slots=True)
class Row:
    """A dossier as the list shows it.

    ``strip``: drawn small; ``current``: of its last change; ``line``: where the words were found.
    """

    of: Listed
    model: str
    strip: Markup
    current: bool
    line: str


@router.get("/dossiers")
async def shelf(request: Request, person: Reader) -> Response:
    """The list; to htmx asking for ``#list`` only the list, under an address worth keeping."""
    desk = desk_of(request)
    asked = query_from(request.query_params)
    told = await asyncio.to_thread(_told, desk, asked)
    pending: list[str] = told["pending"]
    want_strips(desk, pending)
    if request.headers.get("hx-target") == "list":
        headers = {"HX-Push-Url": asked.address()}
        return render(request, "shelf/list.html", headers=headers, person_may=person.role, **told)
    beside = await asyncio.to_thread(_beside, desk)
    return render(
        request,
        "shelf/index.html",
        purposes=PURPOSES,
        key=new_id(),
        narrowed=any(name in asked.given for name in FIELDS[1:]),
        person_may=person.role,
        **beside,
        **told,
    )


@router.get("/dossiers/strips")
async def strips(
    request: Request,
    person: Reader,
    ids: Annotated[str, Query(max_length=4000)] = "",
    first: Annotated[int, Query(ge=1, le=9990)] = 1950,
    after: Annotated[int, Query(ge=1, le=9999)] = 1980,
) -> Response:
    """The strips that have come since, each for its own row; asked again for those that haven't."""
    desk = desk_of(request)
    wanted = [one for one in ids.split(",") if one][:PAGE]
    found = await asyncio.to_thread(current_strips, desk.db, wanted)
    pending = [one for one in wanted if one not in found]
    want_strips(desk, pending)
    rows = {
        dossier: {
            "svg": Markup(
                small_strip(shown.years, (first, min(max(after, first + 10), first + 400)))
            ),
            "shown": shown,
        }
        for dossier, shown in found.items()
    }
    return render(
        request,
        "shelf/strips.html",
        rows=rows,
        pending=pending,
        line=(first, after),
    )


def _told(desk: Desk, asked: Asked) -> dict[str, Any]:
    """What the list shows."""
    page = listed(
        desk.db, asked.filters, sort=asked.sort, down=asked.down, limit=PAGE, offset=asked.offset
    )
    titles = _titles(desk)
    words = asked.filters.words
    lines = lines_with(desk.db, [row.id for row in page.rows], words) if words else {}
    line = time_line(row.years for row in page.rows)
    rows = [_row(row, titles, line, lines.get(row.id, "")) for row in page.rows]
    return {
        "asked": asked,
        "rows": rows,
        "total": page.total,
        "pages": max(1, -(-page.total // PAGE)),
        "from_row": asked.offset + 1 if page.rows else 0,
        "to_row": asked.offset + len(page.rows),
        "columns": COLUMNS,
        "sorts": SORTS,
        "pending": [row.of.id for row in rows if not row.current],
        "line": line,
    }


def _beside(desk: Desk) -> dict[str, Any]:
    """What stands around the list."""
    there = choices(desk.db)
    titles = _titles(desk)
    return {
        "open": there.open,
        "closed": there.closed,
        "makers": sorted({maker for maker, _, _ in there.models if maker}),
        "models": [(model, titles.get(model, model), n) for _, model, n in there.models if model],
        "all_tags": tags_in_use(desk.db),
        "views": views_of(desk.db),
        "own_packs": desk.packs.own,
    }


def _row(row: Listed, titles: Mapping[str, str], line: tuple[int, int], found: str) -> Row:
    return Row(
        of=row,
        model=titles.get(row.model, row.model) or "no model named",
        strip=Markup(small_strip(row.years, line)),
        current=row.strip_version == row.version,
        line=found,
    )


def _titles(desk: Desk) -> Mapping[str, str]:
    """What the models of all packs within reach are called."""
    return Library(desk.packs).model_titles
