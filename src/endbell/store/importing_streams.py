"""The streams of an export, one after the other, every event checked as if it were sent to us."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import groupby
from typing import Any

from .events import SHOP, Change, ChangeRefused, Event, check_change, digest_of
from .exporting_form import EVENTS
from .fold import fold
from .importing_archive import Archive, Row
from .importing_errors import ImportRefused
from .state import DossierState

MAX_EVENTS = 200_000
"""Of one dossier."""

_AT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z")
_TEXTS = {"stream": 32, "at": 32, "who": 64, "device": 128, "kind": 32, "key": 64, "digest": 64}
_STREAM = re.compile(r"[0-9A-Za-z_-]{1,32}")


def streams_of(archive: Archive) -> Iterator[tuple[str, tuple[Event, ...]]]:
    """Every stream with its events, in the order of the archive.

    Raises :class:`ImportRefused` for an event that could not have been recorded, for a stream that
    has a gap or comes twice, and where the digests say that something has been altered.
    """
    seen: set[str] = set()
    rows = (_event(line, row) for line, row in archive.rows(EVENTS))
    for stream, run in groupby(rows, key=lambda event: event.stream):
        if stream in seen:
            raise ImportRefused(f"{EVENTS}: the events of {stream} don't stand together")
        seen.add(stream)
        yield stream, _checked_stream(stream, run)


def state_after(stream: str, events: Iterable[Event]) -> DossierState:
    """The state that the events make; raises :class:`ImportRefused` where they make none."""
    try:
        return fold(stream, events)
    except Exception as error:
        raise ImportRefused(
            f"{EVENTS}: the events of {stream} make no dossier ({type(error).__name__})"
        ) from None


def _checked_stream(stream: str, run: Iterator[Event]) -> tuple[Event, ...]:
    out: list[Event] = []
    digest = ""
    for n, event in enumerate(run, start=1):
        if n > MAX_EVENTS:
            raise ImportRefused(f"{EVENTS}: more than {MAX_EVENTS:,} events in {stream}")
        if event.n != n:
            raise ImportRefused(f"{EVENTS}: event {n} of {stream} is not there; found {event.n}")
        if stream != SHOP and (event.kind == "opened") != (n == 1):
            raise ImportRefused(f"{EVENTS}: {stream} is not opened by its first event, or twice")
        digest = digest_of(digest, replace(event, seq=0, digest=""))
        if digest != event.digest:
            raise ImportRefused(f"{EVENTS}: event {n} of {stream} has been altered")
        out.append(event)
    return tuple(out)


def _event(line: int, row: Row) -> Event:
    try:
        event = _read(row)
        check_change(event.stream, Change(event.kind, event.data))
    except ChangeRefused as error:
        raise ImportRefused(f"{EVENTS}, line {line}: {error}") from None
    except (KeyError, TypeError, ValueError, RecursionError) as error:
        said = " ".join(str(error).split())[:120]
        raise ImportRefused(f"{EVENTS}, line {line}: not an event ({said})") from None
    return event


def _read(row: Row) -> Event:
    values: dict[str, Any] = dict(row)
    for name, longest in _TEXTS.items():
        value = values[name]
        if not isinstance(value, str) or len(value) > longest or "\0" in value:
            raise ValueError(f"{name} is {value!r:.60}")
    for name in ("seq", "n"):
        value = values[name]
        if not isinstance(value, int) or isinstance(value, bool) or not 0 < value < 2**31:
            raise ValueError(f"{name} is {value!r:.60}")
    if not _STREAM.fullmatch(values["stream"]) or not _AT.fullmatch(values["at"]):
        raise ValueError("stream or time")
    if not isinstance(values["data"], dict):
        raise ValueError("data is no table")
    typed = values["typed"]
    if typed is not None and (not isinstance(typed, str) or len(typed) > 32):
        raise ValueError("typed is no time")
    return Event(**values)
