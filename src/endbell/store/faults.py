"""What a database or a disk refuses, by sort: for whoever has to say it to a person."""

from __future__ import annotations

import errno
import sqlite3
from typing import Literal

from sqlalchemy.exc import DataError, DBAPIError, IntegrityError

DriverError = DBAPIError
"""Whatever the database itself says is raised as this."""

Sort = Literal["no room", "taken", "too large", "away"]


def sort_of(error: Exception) -> Sort | None:
    """'no room': the disk is full; 'taken': something with that name is there; 'too large': a value
    that no column holds; 'away': the database does not answer; None: anything else.
    """
    if isinstance(error, OSError):
        return "no room" if error.errno in (errno.ENOSPC, errno.EDQUOT) else None
    if not isinstance(error, DBAPIError):
        return None
    if _is_full(error.orig):
        return "no room"
    if isinstance(error, IntegrityError):
        return "taken"
    if isinstance(error, DataError):
        return "too large"
    return "away" if error.connection_invalidated else None


def _is_full(original: object) -> bool:
    if isinstance(original, sqlite3.Error):
        return getattr(original, "sqlite_errorname", "") in ("SQLITE_FULL", "SQLITE_IOERR_WRITE")
    return getattr(original, "sqlstate", None) == "53100"
