"""Reference: the packs within reach, leafed through, searched; a page for everything in them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse

from ..desk import desk_of
from ..pack_library import Library
from ..pack_sheets import Sheet, SheetRow, replaced_by
from ..pack_views import (
    FeatureView,
    address_of,
    features_of,
    found_in,
    models_in,
    neighbours,
    quantities_of,
    row_says,
    sources_of,
    supplies_of,
)
from ..pages import render
from ..refusal import not_found
from ..rights import Reader
from ..windows import drawn, windows_spec
from . import shop_pack_files, shop_pack_rows, shop_packs, source_numbers

router = APIRouter()

NEIGHBOURS = 6
"""So many neighbours of a feature are drawn with it; the others are named."""


@router.get("/packs")
def packs(request: Request, person: Reader, q: str = "") -> Response:
    """All packs; with ``q`` the rows that have these words in them."""
    library = Library(desk_of(request).packs)
    found = found_in(library.rows(), q)
    told: dict[str, Any] = {"q": q, "found": found, "says": row_says, "address": address_of}
    if request.headers.get("hx-target") == "found":
        return render(request, "packs/found.html", **told)
    sheets = library.sheets
    return render(
        request,
        "packs/index.html",
        own=[sheet for sheet in sheets if not sheet.shipped],
        shipped=[sheet for sheet in sheets if sheet.shipped],
        sources=sources_of(library.rows(), library.titles()),
        **told,
    )


# The addresses of one kind of thing come before those of a pack, whose id could be anything.
router.include_router(source_numbers.router)
router.include_router(shop_packs.router)
router.include_router(shop_pack_files.router)
router.include_router(shop_pack_rows.router)


@router.get("/packs/{pack}")
def pack_page(request: Request, person: Reader, pack: str) -> Response:
    """One pack: its models, features, suppliers, and how many rows of everything else."""
    library = Library(desk_of(request).packs)
    sheet = library.sheet(pack)
    below = [row for row in library.in_force(pack) if row.pack != pack]
    supplies = supplies_of(sheet.rows, library.titles())
    features = _named(features_of(sheet.rows), features_of(below))
    quantities = _named(quantities_of(sheet.rows), quantities_of(below))
    bars = [*supplies, *(bar for f in (*features, *quantities) for bar in f.bars)]
    return render(
        request,
        "packs/pack.html",
        sheet=sheet,
        models=models_in(sheet.rows) if sheet.of("model") or sheet.of("run") else (),
        features=features,
        quantities=quantities,
        supplies=supplies,
        others=_other_tables(sheet),
        instead=_instead(sheet, library),
        says=row_says,
        address=address_of,
        **drawn(bars),
    )


@router.get("/packs/{pack}/features/{feature}")
def feature_page(request: Request, person: Reader, pack: str, feature: str) -> Response:
    """One feature: its windows beside those of its neighbours, with where each row is from."""
    library = Library(desk_of(request).packs)
    sheet = library.sheet(pack)
    this, beside = _feature(library, pack, feature)
    return render(
        request,
        "packs/feature.html",
        sheet=sheet,
        feature=this,
        beside=beside,
        own_packs=library.own_above(sheet),
        change_address=lambda own: f"/packs/{own}/{_form_of(this)}",
        says=row_says,
        address=address_of,
        **drawn([bar for f in (this, *beside[:NEIGHBOURS]) for bar in f.bars]),
    )


@router.get("/packs/{pack}/features/{feature}/windows.json")
def feature_windows(request: Request, person: Reader, pack: str, feature: str) -> Response:
    """The windows of a feature and its neighbours as a Vega-Lite specification."""
    library = Library(desk_of(request).packs)
    library.sheet(pack)
    this, beside = _feature(library, pack, feature)
    bars = [bar for f in (this, *beside[:NEIGHBOURS]) for bar in f.bars]
    together = {f.title for f in beside if f.group == this.group}
    return JSONResponse(windows_spec(bars, this.title, together))


@router.get("/packs/{pack}/models/{model}")
def model_page(request: Request, person: Reader, pack: str, model: str) -> Response:
    """One model: its runs, expected parts, serials, and its values of every feature."""
    library = Library(desk_of(request).packs)
    sheet = library.sheet(pack)
    rows = library.in_force(pack)
    this = next((m for m in models_in(rows) if m.id == model), None)
    if this is None:
        raise not_found("such model in that pack")
    features = [_for_model(feature, model) for feature in features_of(rows)]
    features = [feature for feature in features if feature.bars]
    bars = [*this.runs, *this.serials, *(bar for f in features for bar in f.bars)]
    return render(
        request,
        "packs/model.html",
        sheet=sheet,
        model=this,
        own_packs=library.own_above(sheet),
        change_address=lambda own: f"/packs/{own}/rows/run?key={quote(model)}",
        features=features,
        address=address_of,
        **drawn(bars),
    )


@router.get("/packs/{pack}/tables/{table}")
def table_page(request: Request, person: Reader, pack: str, table: str) -> Response:
    """Every row of one table, as it stands in the pack's files."""
    library = Library(desk_of(request).packs)
    sheet = library.sheet(pack)
    rows = sheet.of(table)
    if not rows:
        raise not_found("such table in that pack")
    columns = list(dict.fromkeys(key for row in rows for key in row.cells))
    return render(
        request,
        "packs/table.html",
        sheet=sheet,
        table=table,
        rows=rows,
        columns=columns,
        own_packs=library.own_above(sheet),
        instead=_instead(sheet, library),
    )


def _feature(
    library: Library, pack: str, feature: str
) -> tuple[FeatureView, tuple[FeatureView, ...]]:
    rows = library.in_force(pack) or library.sheet(pack).rows
    among = (*features_of(rows), *quantities_of(rows))
    this = next((f for f in among if f.id == feature), None)
    if this is None:
        raise not_found("such feature in that pack")
    return this, neighbours(this, among)


def _form_of(feature: FeatureView) -> str:
    """The form in which a feature (or the alternatives of a quantity) is changed."""
    if feature.row is not None and feature.row.table == "quantity":
        return f"rows/quantity?key={quote(feature.id)}"
    return f"feature?id={quote(feature.id)}"


def _for_model(feature: FeatureView, model: str) -> FeatureView:
    meant = tuple(
        bar
        for bar in feature.bars
        if model in (named := bar.row.cells.get("models", "").split(";")) or named == [""]
    )
    return FeatureView(feature.id, feature.row, meant)


def _named(own: tuple[FeatureView, ...], below: tuple[FeatureView, ...]) -> tuple[FeatureView, ...]:
    """Features with the head that a pack below has, where a pack gives only values."""
    heads = {feature.id: feature.row for feature in below}
    return tuple(FeatureView(f.id, f.row or heads.get(f.id), f.bars) for f in own)


def _other_tables(sheet: Sheet) -> dict[str, int]:
    shown = ("model", "run", "feature", "feature_value", "supply", "quantity", "alternative")
    return {name: count for name, count in sheet.tables.items() if name not in shown}


def _instead(sheet: Sheet, library: Library) -> Callable[[SheetRow], tuple[SheetRow, ...]]:
    """The rows of the packs below whose place a row takes; a shipped pack takes none."""
    below: list[SheetRow] = []
    if not sheet.shipped:
        for name in sheet.builds_on:
            below += library.in_force(name)
    return lambda row: replaced_by(row, below)
