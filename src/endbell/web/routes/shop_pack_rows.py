"""Rows of the shop's own packs by form: a feature with its values, or the rows of one key."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import RedirectResponse

from ...reference.tables import TABLES
from ...store import new_id
from ..desk import Desk, desk_of
from ..pack_checks import Checked
from ..pack_edit import Edited, Typed, edited, grid_of, troubles_with, typed_rows
from ..pack_library import Library
from ..pack_rows import columns_of
from ..pack_sheets import SheetRow
from ..pack_views import address_of, features_of, neighbours
from ..pages import render
from ..refusal import Refusal, not_found
from ..rights import Technician
from ..shop_desk import checked_files, own_files, set_files
from ..windows import drawn, typed_bars

router = APIRouter(prefix="/packs/{pack}")


async def fields_of(request: Request) -> dict[str, str]:
    """The fields of the form, of which a table with many columns has many."""
    form = await request.form(max_fields=20_000)
    return {name: value for name, value in form.items() if isinstance(value, str)}


Fields = Annotated[dict[str, str], Depends(fields_of)]
FEATURE, VALUE = "feature", "feature_value"


@router.get("/rows/{table}")
def rows_page(
    request: Request, person: Technician, pack: str, table: str, key: str = ""
) -> Response:
    """The rows of one key, or blank ones."""
    desk = desk_of(request)
    own_files(desk, pack)
    _check_table(table)
    rows = _rows(desk, pack, table, key) if key else []
    if key and not rows:
        raise not_found("such row in force with that pack")
    return _rows_form(request, pack, table, key, rows, grid_of(table, rows).rows)


@router.post("/rows/{table}/check")
def check_rows(
    request: Request, person: Technician, pack: str, table: str, form: Fields
) -> Response:
    """What is wrong with the rows as they stand in the form now."""
    _check_table(table)
    desk = desk_of(request)
    typed = typed_rows(form, "row", table)
    after = _rows_after(desk, pack, table, form.get("was", ""), typed)
    return _troubles(request, pack, table, after, typed_bars(typed, table))


@router.post("/rows/{table}")
def save_rows(
    request: Request, person: Technician, pack: str, table: str, form: Fields
) -> Response:
    """Record the rows; with a row that can't be used nothing is recorded and the form stays."""
    _check_table(table)
    desk = desk_of(request)
    was = form.get("was", "")
    typed = typed_rows(form, "row", table)
    after = _rows_after(desk, pack, table, was, typed)
    wrong = _new_troubles(desk, pack, after)[1]
    if wrong or after.in_toml:
        rows = _rows(desk, pack, table, was) if was else []
        return _rows_form(request, pack, table, was, rows, typed, after, status=422)
    set_files(desk, person, pack, own_files(desk, pack), after.files, form.get("key", ""))
    return RedirectResponse(f"/packs/{pack}/tables/{table}", 303)


@router.get("/feature")
def feature_page(request: Request, person: Technician, pack: str, id: str = "") -> Response:
    """A feature with its values: one that there is, or a new one."""
    desk = desk_of(request)
    own_files(desk, pack)
    head, values = _feature_rows(desk, pack, id)
    if id and not head:
        raise not_found("such feature in force with that pack")
    grids = grid_of(FEATURE, head, blank=0 if id else 1), grid_of(VALUE, values)
    return _feature_form(request, pack, id, grids[0].rows[:1], grids[1].rows)


@router.post("/feature/check")
def check_feature(request: Request, person: Technician, pack: str, form: Fields) -> Response:
    """What is wrong with the feature as it stands in the form now; its windows are drawn."""
    desk = desk_of(request)
    _, values, after = _feature_after(desk, pack, form)
    return _troubles(request, pack, FEATURE, after, typed_bars(values, VALUE))


@router.post("/feature")
def save_feature(request: Request, person: Technician, pack: str, form: Fields) -> Response:
    """Record the feature and its values together."""
    desk = desk_of(request)
    head, values, after = _feature_after(desk, pack, form)
    wrong = _new_troubles(desk, pack, after)[1]
    if wrong or after.in_toml or not head:
        return _feature_form(request, pack, form.get("was", ""), head, values, after, status=422)
    set_files(desk, person, pack, own_files(desk, pack), after.files, form.get("key", ""))
    return RedirectResponse(f"/packs/{pack}/features/{head[0]['id']}", 303)


def _check_table(table: str) -> None:
    if table not in TABLES:
        raise Refusal(404, f"a table called '{table}'", f"one of {', '.join(TABLES)}")


def _rows(desk: Desk, pack: str, table: str, key: str) -> list[SheetRow]:
    """The rows of a key that are in force with ``pack``."""
    rows = Library(desk.packs).in_force(pack)
    return [row for row in rows if (row.table, row.key) == (table, key)]


def _rows_after(desk: Desk, pack: str, table: str, was: str, typed: tuple[Typed, ...]) -> Edited:
    before = _rows(desk, pack, table, was) if was else []
    return edited(pack, own_files(desk, pack), table, before, typed)


def _feature_rows(desk: Desk, pack: str, feature: str) -> tuple[list[SheetRow], list[SheetRow]]:
    rows = Library(desk.packs).in_force(pack) if feature else ()
    head = [r for r in rows if r.table == FEATURE and r.cells["id"] == feature]
    values = [r for r in rows if r.table == VALUE and r.cells["feature"] == feature]
    return head, values


def _feature_after(
    desk: Desk, pack: str, form: Mapping[str, str]
) -> tuple[tuple[Typed, ...], tuple[Typed, ...], Edited]:
    was = form.get("was", "")
    head = typed_rows(form, "f", FEATURE, {"id": was} if was else None)[:1]
    name = was or (head[0]["id"] if head else "")
    values = typed_rows(form, "v", VALUE, {"feature": name})
    values = tuple(v for v in values if any(v[k] for k in ("value", "first", "last", "models")))
    before_head, before_values = _feature_rows(desk, pack, was)
    one = edited(pack, own_files(desk, pack), FEATURE, before_head, head)
    two = edited(pack, one.files, VALUE, before_values, values)
    both = Edited(two.files, one.changed + two.changed, one.in_toml + two.in_toml)
    return head, values, both


def _new_troubles(desk: Desk, pack: str, after: Edited) -> tuple[Checked, tuple[Any, ...]]:
    """The check of the files after, and what of it wasn't wrong before."""
    checked = checked_files(desk, pack, after.files)
    return checked, troubles_with(checked, checked_files(desk, pack, own_files(desk, pack)))


def _told(request: Request, pack: str, after: Edited | None) -> dict[str, Any]:
    """What a form says beneath its fields."""
    if after is None:
        return {"checked": None, "in_toml": (), "same": True}
    checked, new = _new_troubles(desk_of(request), pack, after)
    return {
        "checked": Checked(new, checked.readable),
        "in_toml": after.in_toml,
        "same": after.changed == 0,
    }


def _troubles(request: Request, pack: str, table: str, after: Edited, bars: list[Any]) -> Response:
    return render(
        request,
        "packs/troubles.html",
        pack=pack,
        file=f"{table}.csv",
        form=True,
        bars=bars,
        **_told(request, pack, after),
        **drawn(bars),
    )


def _rows_form(
    request: Request,
    pack: str,
    table: str,
    was: str,
    rows: list[SheetRow],
    typed: tuple[Typed, ...],
    after: Edited | None = None,
    status: int = 200,
) -> Response:
    bars = typed_bars(typed, table)
    return render(
        request,
        "packs/rows.html",
        status=status,
        pack=pack,
        table=table,
        file=f"{table}.csv",
        was=was,
        from_below=any(row.pack != pack for row in rows),
        columns=columns_of(table),
        typed=typed,
        key=new_id(),
        form=True,
        bars=bars,
        address=address_of,
        **_told(request, pack, after),
        **drawn(bars),
    )


def _feature_form(
    request: Request,
    pack: str,
    was: str,
    head: tuple[Typed, ...],
    values: tuple[Typed, ...],
    after: Edited | None = None,
    status: int = 200,
) -> Response:
    rows = Library(desk_of(request).packs).in_force(pack)
    among = features_of(rows)
    this = next((f for f in among if f.id == was), None)
    bars = typed_bars(values, VALUE)
    beside = neighbours(this, among)[:3] if this else ()
    parts = dict.fromkeys(row.cells["id"] for row in rows if row.table in ("usual_id", "expected"))
    models = [row.cells["id"] for row in rows if row.table == "model"]
    return render(
        request,
        "packs/feature_form.html",
        status=status,
        pack=pack,
        file=f"{FEATURE}.csv",
        was=was,
        title=this.title if this else "",
        head=(head or ({},))[0],
        head_columns=[c for c in columns_of(FEATURE) if not (was and c.key == "id")],
        values=values,
        value_columns=[c for c in columns_of(VALUE) if c.key != "feature"],
        parts=sorted(parts),
        models=models,
        beside=beside,
        key=new_id(),
        form=True,
        bars=bars,
        **_told(request, pack, after),
        **drawn([*bars, *(bar for f in beside for bar in f.bars)]),
    )
