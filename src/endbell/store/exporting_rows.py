"""The rows of an export, all of one state of the database, whatever is recorded meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import IO, Any

from sqlalchemy import Connection, Select, func, select

from .account_tables import account_log, accounts, devices
from .append import event_from
from .database import Database
from .events import SHOP, Event, canonical
from .exporting_form import (
    ACCOUNT_KEYS,
    ACCOUNTS,
    DEVICE_KEYS,
    DEVICES,
    EVENTS,
    LOG,
    LOG_KEYS,
    Member,
    event_row,
)
from .tables import dossiers, events

_ROWS = 1_000


class ExportRefused(ValueError):
    """What was asked for can't be exported; the sentence says why."""


@dataclass(slots=True)
class Written:
    """What has gone into the archive so far."""

    members: list[Member] = field(default_factory=list[Member])
    counts: dict[str, int] = field(default_factory=dict[str, int])
    photos: dict[str, None] = field(default_factory=dict[str, None])
    missing: list[str] = field(default_factory=list[str])


def write_rows(
    db: Database, dossier_ids: Sequence[str] | None, held: IO[bytes], written: Written
) -> list[tuple[str, int, int]]:
    """Write all rows to ``held``; the name, beginning and length of each table there."""
    out: list[tuple[str, int, int]] = []
    with db.engine.connect() as connection:
        if not db.is_sqlite:
            connection = connection.execution_options(
                isolation_level="REPEATABLE READ", postgresql_readonly=True
            )
        connection = connection.execution_options(yield_per=_ROWS)
        with connection.begin():
            streams = None if dossier_ids is None else _streams(connection, dossier_ids)
            people: dict[str, None] = {}
            used: dict[str, None] = {}
            lines = _event_lines(connection, streams, written, people, used)
            out.append(_table(held, EVENTS, lines))
            named = None if streams is None else (people, used)
            out.append(_table(held, ACCOUNTS, _account_lines(connection, named, written)))
            out.append(_table(held, DEVICES, _device_lines(connection, named, written)))
            if streams is None:
                query = select(account_log).order_by(account_log.c.seq)
                out.append(_table(held, LOG, _lines(connection, query, LOG_KEYS, written, LOG)))
    return out


def _streams(connection: Connection, dossier_ids: Sequence[str]) -> list[str]:
    wanted = sorted(set(dossier_ids))
    if not wanted:
        raise ExportRefused("no dossier was chosen; accepted: at least one")
    for dossier in wanted:
        if not connection.execute(
            select(func.count()).select_from(dossiers).where(dossiers.c.id == dossier)
        ).scalar_one():
            raise ExportRefused(f"there is no dossier {dossier:.80}")
    return wanted


def _event_lines(
    connection: Connection,
    streams: Sequence[str] | None,
    written: Written,
    people: dict[str, None],
    used: dict[str, None],
) -> Iterator[str]:
    count = of_dossiers = 0
    last = ""
    for event in _events(connection, streams):
        count += 1
        if event.stream != last:
            of_dossiers += event.stream != SHOP
            last = event.stream
        people[event.who] = used[event.device] = None
        if event.kind == "photo-added":
            written.photos[str(event.data["photo"])] = None
        yield canonical(event_row(event))
    written.counts |= {"dossiers": of_dossiers, "events": count}


def _events(connection: Connection, streams: Sequence[str] | None) -> Iterator[Event]:
    query = select(events).order_by(events.c.stream, events.c.n)
    if streams is None:
        yield from map(event_from, connection.execute(query).mappings())
        return
    for stream in streams:
        yield from map(
            event_from, connection.execute(query.where(events.c.stream == stream)).mappings()
        )


def _account_lines(
    connection: Connection,
    named: tuple[Mapping[str, None], Mapping[str, None]] | None,
    written: Written,
) -> Iterator[str]:
    only = None if named is None else named[0]
    query = select(accounts).order_by(accounts.c.id)
    return _lines(connection, query, ACCOUNT_KEYS, written, ACCOUNTS, only)


def _device_lines(
    connection: Connection,
    named: tuple[Mapping[str, None], Mapping[str, None]] | None,
    written: Written,
) -> Iterator[str]:
    only = None if named is None else named[1]
    query = select(devices).order_by(devices.c.id)
    return _lines(connection, query, DEVICE_KEYS, written, DEVICES, only)


def _lines(
    connection: Connection,
    query: Select[Any],
    keys: Sequence[str],
    written: Written,
    name: str,
    only: Mapping[str, None] | None = None,
) -> Iterator[str]:
    count = 0
    for row in connection.execute(query):
        values = row._mapping
        if only is None or values["id"] in only:
            count += 1
            yield canonical({key: values[key] for key in keys})
    written.counts[name.removesuffix(".jsonl").replace("-", "_")] = count


def _table(held: IO[bytes], name: str, lines: Iterable[str]) -> tuple[str, int, int]:
    start = held.tell()
    for line in lines:
        held.write(line.encode() + b"\n")
    return name, start, held.tell() - start
