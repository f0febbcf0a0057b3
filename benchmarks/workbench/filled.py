"""A shop's database with so many dossiers in it, dealt out by the simulator."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from itertools import cycle
from pathlib import Path
from typing import Any

from sqlalchemy import insert, select, text

from benchmarks.harness import drawn
from endbell.batch.code import made_by
from endbell.store import By, Change, Database, DossierState, append, new_id, open_database
from endbell.store.tables import metadata
from endbell.web.asking import day_of
from endbell.web.shop_packs import ShopPacks
from endbell.web.strips_kept import keep_all
from endbell.web.weighed import Ask, Strip, signed
from endbell.web.work import Worker

BY = By("simulator", "benchmark")
TEN = drawn.Deal(least=8, most=12)
HEAD = ("purpose", "packs")
WHOSE = ("counter", "post", "estate", "trade", "regular", "auction")
DIFFERENT = 400
TOGETHER = 200
"""Strips kept, or rows copied, at a time."""


def fill(folder: Path, count: int, workers: int = 2) -> Database:
    """The SQLite database in ``folder`` with ``count`` dossiers of about ten marks each.

    Some hundreds are drawn and recorded again and again under other numbers: what is measured is
    how the store and the pages bear many, not the simulator.  Every one has its strip, as in a
    shop whose lists have been looked at.  A database that has them already is taken as it is.
    """
    db = open_database(folder)
    have = count_of(db, "dossiers")
    if have < count:
        dealt = drawn.dealt(TEN, min(DIFFERENT, count), workers)
        forms = [tomllib.loads(text) for _, text in dealt]
        for n, top in zip(range(count), cycle(forms), strict=False):
            if n >= have:
                append(db, new_id(), list(_changes(n, top)), by=BY)
    made = signed(made_by(), ShopPacks(db).now())
    if count_of(db, "strips", f"WHERE made_by = '{made}'") < count:
        keep_strips(db)
    return db


def keep_strips(db: Database) -> None:
    """Weigh what is different and keep its strip for each dossier that is alike."""
    work, packs = Worker(), ShopPacks(db).now()
    found: dict[str, Strip] = {}
    batch: list[tuple[DossierState, Strip]] = []
    for state in _states(db):
        form = state.form()
        alike = repr({key: value for key, value in form.items() if key != "id"})
        if alike not in found:
            weighed = work(Ask("strip", form, day_of(state), packs))
            assert isinstance(weighed, Strip)
            found[alike] = weighed
        batch.append((state, found[alike]))
        if len(batch) == TOGETHER:
            keep_all(db, batch)
            batch.clear()
    keep_all(db, batch)


def copy_into(source: Database, folder: Path, url: str) -> Database:
    """The PostgreSQL database at ``url`` with every row of ``source``."""
    db = open_database(folder, url)
    with source.engine.connect() as rows_of, db.engine.begin() as into:
        for table in metadata.sorted_tables:
            rows = [dict(row) for row in rows_of.execute(select(table)).mappings()]
            for first in range(0, len(rows), TOGETHER):
                into.execute(insert(table), rows[first : first + TOGETHER])
            if rows and (own := table.autoincrement_column) is not None:
                last = max(row[own.name] for row in rows)
                into.execute(
                    text(
                        f"SELECT setval(pg_get_serial_sequence('{table.name}', '{own.name}'), :n)"
                    ),
                    {"n": last},
                )
    with db.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("VACUUM ANALYZE"))
    return db


def count_of(db: Database, table: str, where: str = "") -> int:
    """Rows in a table."""
    with db.engine.connect() as connection:
        return connection.exec_driver_sql(f"SELECT count(*) FROM {table} {where}").scalar_one()


def ids_of(db: Database) -> Sequence[str]:
    """The ids of all dossiers, by number."""
    with db.engine.connect() as connection:
        rows = connection.exec_driver_sql("SELECT id FROM dossiers ORDER BY number")
        return [row[0] for row in rows]


def _states(db: Database) -> Iterator[DossierState]:
    from endbell.store import state_of

    for dossier in ids_of(db):
        yield state_of(db, dossier)


def _changes(n: int, top: dict[str, Any]) -> Iterator[Change]:
    opened: dict[str, Any] = {
        "number": f"LOAD-{n:06d}",
        "intake": {"whose": f"{WHOSE[n % len(WHOSE)]} {n % 997}", "why": "drawn for a measurement"},
        "claim": top.get("claim", {}),
        **{key: top[key] for key in HEAD if key in top},
    }
    yield Change("opened", opened)
    keys = {key: str(top[key]) for key in ("as_of",) if key in top}
    if keys:
        yield Change("head-set", {"keys": keys})
    for row in top.get("part", ()):
        yield Change("part-set", {"row": row})
    for row in top.get("repair", ()):
        yield Change("repair-set", {"repair": new_id(), "row": _plain(row)})
    for row in top.get("mark", ()):
        yield Change("mark-set", {"mark": new_id(), "row": _plain(row)})


def _plain(row: dict[str, Any]) -> dict[str, Any]:
    """Days as text: events are JSON."""
    return {key: str(v) if hasattr(v, "isoformat") else v for key, v in row.items()}
