"""Accounts, devices and the log of accounts that an export brings: names, never a way in."""

from __future__ import annotations

import re
import secrets
from typing import Any

from sqlalchemy import Connection, func, insert, select, text

from .account_tables import account_log, accounts, devices
from .accounts import READER, ROLES, folded
from .exporting_form import (
    ACCOUNT_KEYS,
    ACCOUNTS,
    DEVICE_KEYS,
    DEVICES,
    LOG,
    LOG_KEYS,
)
from .importing_archive import Archive, Row
from .importing_errors import ImportRefused

_LONGEST = {"id": 32, "name": 80, "folded": 160, "role": 16, "made_at": 32, "changed_at": 32,
            "seen_at": 32, "settings": 65_536, "at": 32, "who": 32, "what": 40, "about": 200,
            "address": 64}  # fmt: skip


def add_people(connection: Connection, archive: Archive, *, fresh: bool) -> int:
    """Add accounts and devices that are not there; how many accounts.

    ``fresh``: nothing is recorded here yet, so accounts come as they were; else they come closed,
    as readers, for the sake of their names.  None has a password: an owner gives it a link.
    """
    added = 0
    for line, row in archive.rows(ACCOUNTS):
        added += _add_account(connection, _checked(ACCOUNTS, line, row, ACCOUNT_KEYS), fresh)
    for line, row in archive.rows(DEVICES):
        values = _checked(DEVICES, line, row, DEVICE_KEYS)
        if not _there(connection, devices, values["id"]):
            # nobody holds what this is the hash of
            connection.execute(insert(devices).values(**values, secret=secrets.token_hex(32)))
    if fresh and not connection.execute(select(func.count()).select_from(account_log)).scalar_one():
        _add_log(connection, archive)
    return added


def _add_account(connection: Connection, values: dict[str, Any], fresh: bool) -> bool:
    if _there(connection, accounts, values["id"]):
        return False
    values["folded"] = folded(values["name"])
    number = 1
    name = values["name"]
    while connection.execute(
        select(accounts.c.id).where(accounts.c.folded == values["folded"])
    ).first():
        number += 1
        values["name"] = f"{name[:70]} ({number})"
        values["folded"] = folded(values["name"])
    if not fresh:
        values |= {"role": READER, "closed": True}
    connection.execute(insert(accounts).values(**values, password=""))
    return True


def _add_log(connection: Connection, archive: Archive) -> None:
    last = 0
    for line, row in archive.rows(LOG):
        values = _checked(LOG, line, row, LOG_KEYS)
        if values["seq"] <= last:
            raise ImportRefused(f"{LOG}, line {line}: out of order")
        last = values["seq"]
        connection.execute(insert(account_log).values(**values))
    if last and connection.dialect.name == "postgresql":
        set_sequence(connection, "account_log", last)


def set_sequence(connection: Connection, table: str, last: int) -> None:
    """Have PostgreSQL go on counting after ``last``; SQLite does so by itself."""
    connection.execute(
        text(f"SELECT setval(pg_get_serial_sequence('{table}', 'seq'), :last)"), {"last": last}
    )


def _there(connection: Connection, table: Any, row_id: str) -> bool:
    return connection.execute(select(table.c.id).where(table.c.id == row_id)).first() is not None


def _checked(name: str, line: int, row: Row, keys: tuple[str, ...]) -> dict[str, Any]:
    if set(row) != set(keys):
        raise ImportRefused(f"{name}, line {line}: has not the keys {', '.join(keys)}")
    for key in keys:
        value = row[key]
        if key == "closed":
            good = isinstance(value, bool)
        elif key == "seq":
            good = isinstance(value, int) and not isinstance(value, bool) and 0 < value < 2**31
        elif key == "role":
            good = value in ROLES
        elif key == "id":
            good = isinstance(value, str) and re.fullmatch(r"[0-9A-Za-z]{1,32}", value) is not None
        else:
            good = isinstance(value, str) and len(value) <= _LONGEST[key] and "\0" not in value
        if not good:
            raise ImportRefused(f"{name}, line {line}: {key} is {value!r:.60}")
    return dict(row)
