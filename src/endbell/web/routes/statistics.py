"""What the shop has seen so far: charts, and a table beside each."""

from __future__ import annotations

from datetime import datetime, timedelta
from weakref import WeakKeyDictionary

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse

from ...store.statistics import counted
from ..charts import Chart, by_mark, by_model, by_month, by_part, by_year_built
from ..desk import Desk, desk_of
from ..pack_library import Library
from ..pages import render
from ..refusal import not_found
from ..rights import Reader

router = APIRouter(prefix="/statistics")

LASTS = timedelta(seconds=60)
"""So long a page's counts are kept for its charts, which are of the same moment then."""

_KEPT: WeakKeyDictionary[Desk, tuple[datetime, list[Chart]]] = WeakKeyDictionary()


@router.get("")
def statistics(request: Request, person: Reader) -> Response:
    """All charts with their tables."""
    desk = desk_of(request)
    charts = charts_of(desk)
    _KEPT[desk] = (desk.now(), charts)
    return render(request, "shelf/statistics.html", charts=charts)


@router.get("/{chart}.json")
def specification(request: Request, person: Reader, chart: str) -> Response:
    """One chart as a Vega-Lite specification with its data."""
    desk = desk_of(request)
    at, charts = _KEPT.get(desk, (None, []))
    if at is None or desk.now() - at > LASTS:
        charts = charts_of(desk)
        _KEPT[desk] = (desk.now(), charts)
    found = next((c for c in charts if c.id == chart), None)
    if found is None:
        raise not_found("such chart")
    return JSONResponse(dict(found.spec))


def charts_of(desk: Desk) -> list[Chart]:
    """The charts over what is recorded now; titles are those of the packs within reach."""
    counts = counted(desk.db)
    rows = Library(desk.packs).rows()
    titles = {row.cells["id"]: row.cells["title"] for row in rows if row.table in TITLED}
    class_of = {
        row.cells["id"]: titles.get(row.cells["class"], row.cells["class"])
        for row in rows
        if row.table in ("usual_id", "expected")
    }
    # a part is called by its class, with its number where there are several
    parts = {part: f"{title} {_number(part)}".strip() for part, title in class_of.items()}
    # best first: the table has them in the order in which they decide
    words = sorted(
        {
            row.cells["word"]: float(row.cells["high"]) for row in rows if row.table == "part_word"
        }.items(),
        key=lambda pair: -pair[1],
    )
    return [
        by_month(counts),
        by_model(counts, titles),
        by_year_built(counts),
        by_part(counts, class_of, [word for word, _ in words]),
        by_mark(counts, parts),
    ]


TITLED = ("model", "class")


def _number(part: str) -> str:
    """'3' of 'pot-3'."""
    _, dash, number = part.rpartition("-")
    return number if dash and number.isdigit() else ""
