"""What happens to a dossier, told to every page that shows it (server-sent events).

Every event is a state, not a step: of each name only the newest counts.  So a slow phone is never
behind by more than one of each, and a page that was away is told what it missed.
"""

from __future__ import annotations

import asyncio
import signal
import threading
import time
from collections import OrderedDict
from collections.abc import AsyncGenerator
from dataclasses import dataclass, field
from types import FrameType

KEPT_DOSSIERS = 2000
"""Dossiers whose newest events are kept for pages that come back."""

RETRY_MS = 2000
KEEP_ALIVE_SECONDS = 15.0

PRESENCE = "presence"


@dataclass(frozen=True, slots=True)
class Happened:
    """An event as sent.  ``n``: counts up over all dossiers since the server began."""

    n: int
    name: str
    data: str


@dataclass(frozen=True, slots=True)
class Viewer:
    """Somebody who has a dossier open: account, name, role, session (one a browser)."""

    account: str
    name: str
    role: str = ""
    device: str = ""
    session: str = ""


@dataclass(eq=False, slots=True)
class _Seat:
    """One open page: what it has not been sent yet, newest of each name."""

    viewer: Viewer
    loop: asyncio.AbstractEventLoop
    wake: asyncio.Event
    waiting: dict[str, Happened] = field(default_factory=dict[str, Happened])


class Hub:
    """Who has which dossier open, and what they are to be told.  Publishing is safe in any thread.

    ``epoch``: names this run of the server in event ids, since counting begins anew.
    """

    def __init__(self, keep_alive: float = KEEP_ALIVE_SECONDS) -> None:
        self.epoch = f"{time.time_ns():x}"
        self._keep_alive = keep_alive
        self._lock = threading.RLock()  # a signal may come while it is held
        self._n = 0
        self._seats: dict[str, list[_Seat]] = {}
        self._newest: OrderedDict[str, dict[str, Happened]] = OrderedDict()
        self._closed = False
        self.loop: asyncio.AbstractEventLoop | None = None

    async def start(self) -> None:
        """Called when the server starts, in its event loop.

        A server that is told to stop waits for open answers, and streams never end by themselves:
        so they end with the signal, before whoever else handles it.
        """
        self.loop = asyncio.get_running_loop()
        if threading.current_thread() is threading.main_thread():
            for number in (signal.SIGINT, signal.SIGTERM):
                self._end_with(number)

    def _end_with(self, number: signal.Signals) -> None:
        before = signal.getsignal(number)
        if not callable(before):
            return

        def ends(received: int, where: FrameType | None) -> None:
            self.close()
            before(received, where)

        signal.signal(number, ends)

    def publish(self, dossier: str, name: str, data: str) -> None:
        """Tell every page of ``dossier``; in any thread."""
        with self._lock:
            happened = self._count(name, data)
            newest = self._newest.setdefault(dossier, {})
            newest.pop(name, None)  # so that they stay in the order of their numbers
            newest[name] = happened
            self._newest.move_to_end(dossier)
            while len(self._newest) > KEPT_DOSSIERS:
                self._newest.popitem(last=False)
            for seat in self._seats.get(dossier, ()):
                _hand(seat, happened)

    def viewers(self, dossier: str) -> tuple[Viewer, ...]:
        """Who has the dossier open, each session once, in the order in which they came."""
        with self._lock:
            seats = list(self._seats.get(dossier, ()))
        return tuple(dict.fromkeys(seat.viewer for seat in seats))

    async def events(
        self, dossier: str, viewer: Viewer, last_id: str = ""
    ) -> AsyncGenerator[Happened | None]:
        """What happens to a dossier from now on; None now and then, when nothing does.

        ``last_id``: the last event a page has seen; what it missed comes first.  Ends when the hub
        is closed.
        """
        seat = _Seat(viewer, asyncio.get_running_loop(), asyncio.Event())
        with self._lock:
            if self._closed:
                return
            self._seats.setdefault(dossier, []).append(seat)
            for happened in self._missed(dossier, last_id):
                _hand(seat, happened)
        self._tell_presence(dossier)
        try:
            while not self._closed:
                try:
                    await asyncio.wait_for(seat.wake.wait(), self._keep_alive)
                except TimeoutError:
                    yield None
                    continue
                with self._lock:
                    seat.wake.clear()
                    waiting = sorted(seat.waiting.values(), key=lambda h: h.n)
                    seat.waiting.clear()
                for happened in waiting:
                    yield happened
        finally:
            with self._lock:
                seats = self._seats.get(dossier, [])
                if seat in seats:
                    seats.remove(seat)
                if not seats:
                    self._seats.pop(dossier, None)
            self._tell_presence(dossier)

    def id_of(self, happened: Happened) -> str:
        """The id that a page sends back when it returns."""
        return f"{self.epoch}-{happened.n}"

    def close(self) -> None:
        """End every stream: the server is stopping."""
        with self._lock:
            self._closed = True
            seats = [seat for those in self._seats.values() for seat in those]
        for seat in seats:
            _wake(seat)

    @property
    def closed(self) -> bool:
        return self._closed

    def _tell_presence(self, dossier: str) -> None:
        """Whoever has it open learns that somebody came or went; not kept for those who return."""
        with self._lock:
            seats = self._seats.get(dossier, ())
            if seats:
                happened = self._count(PRESENCE, "")
                for seat in seats:
                    _hand(seat, happened)

    def _missed(self, dossier: str, last_id: str) -> list[Happened]:
        epoch, _, n = last_id.rpartition("-")
        newest = list(self._newest.get(dossier, {}).values())
        if not last_id:
            return []
        seen = int(n) if epoch == self.epoch and n.isdecimal() else -1
        return [happened for happened in newest if happened.n > seen]

    def _count(self, name: str, data: str) -> Happened:
        self._n += 1
        return Happened(self._n, name, data)


def _hand(seat: _Seat, happened: Happened) -> None:
    seat.waiting[happened.name] = happened
    _wake(seat)


def _wake(seat: _Seat) -> None:
    try:
        seat.loop.call_soon_threadsafe(seat.wake.set)
    except RuntimeError:  # its loop is closed: the page is gone
        seat.waiting.clear()


def frame(happened: Happened, event_id: str) -> str:
    """The event in the form of a text/event-stream."""
    lines = "".join(f"data: {line}\n" for line in happened.data.splitlines() or [""])
    return f"id: {event_id}\nevent: {happened.name}\n{lines}\n"
