"""The engine behind the pages: strips at once, full verdicts beside them, each in its own process.

Nothing here raises for what is wrong with a dossier: that comes back as words.  Results are held by
the form they were made from and the packs in force.
"""

from __future__ import annotations

import asyncio
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from typing import Any, cast

from .lane import Lane, LaneClosed, WorkerDied, WorkFailed
from .shop_packs import SHIPPED_ONLY, PacksNow
from .weighed import Ask, Strip, Weighed
from .work import Worker, in_trouble

HELD_STRIPS = 400
HELD_VERDICTS = 60
NICE = 5
"""How far full verdicts step back behind strips and pages."""


class Weigher:
    """Two workers: one for strips, one for full verdicts and reports.

    ``packs``: gives the packs in force now; quick, since it is asked in the event loop, where
    requests have to stay in the order in which they came.  A worker that dies is replaced and its
    request repeated once.
    """

    def __init__(self, packs: Callable[[], PacksNow] | None = None) -> None:
        self._packs = packs or (lambda: SHIPPED_ONLY)
        self._lock = threading.RLock()  # a future that is done calls back at once
        self._asked_at = time.monotonic()
        self._flying: dict[str, Future[Any]] = {}
        self._strips: OrderedDict[str, object] = OrderedDict()
        self._verdicts: OrderedDict[str, object] = OrderedDict()
        self._quick = Lane(Worker)
        self._full = Lane(Worker, (NICE,))

    def close(self) -> None:
        """Stop both workers."""
        self._quick.close()
        self._full.close()

    @property
    def pids(self) -> tuple[int | None, int | None]:
        """The process ids of the two workers."""
        return self._quick.pid, self._full.pid

    def warm(self, form: Mapping[str, Any], day: str) -> None:
        """Have both workers load what dossiers of these packs need; returns at once."""
        ask = Ask("warm", form, day, self._packs())
        self._quick.ask(ask)
        self._full.ask(ask)

    async def strip(
        self,
        form: Mapping[str, Any],
        packs: PacksNow | None = None,
        *,
        day: str,
        owner: str = "",
        without: tuple[int, ...] = (),
        quietly: bool = False,
        glance: bool = False,
    ) -> Strip:
        """The verdict in brief of a form (see :class:`Ask`).

        ``owner``: whose request it is (a dossier's id, say); while it waits, a newer one of the
        same owner takes its place and answers for both.
        ``quietly``: nobody waits for it; it is weighed behind the full verdicts.
        ``glance``: it may do without the number of conflicts.
        """
        if not quietly:
            self._asked_at = time.monotonic()
        lane = self._full if quietly else self._quick
        what = "glance" if glance else "strip"
        ask = Ask(what, form, day, packs or self._packs(), without)
        return cast("Strip", await self._asked(lane, self._strips, HELD_STRIPS, ask, owner))

    async def verdict(
        self,
        form: Mapping[str, Any],
        packs: PacksNow | None = None,
        *,
        day: str,
        owner: str = "",
        without: tuple[int, ...] = (),
        answered: tuple[tuple[str, str], ...] = (),
    ) -> Weighed:
        """The full verdict of a form, ready to be shown (see :class:`Ask`)."""
        self._asked_at = time.monotonic()
        ask = Ask("verdict", form, day, packs or self._packs(), without, answered)
        held = self._verdicts
        return cast("Weighed", await self._asked(self._full, held, HELD_VERDICTS, ask, owner))

    def verdict_if_held(
        self,
        form: Mapping[str, Any],
        *,
        day: str,
        answered: tuple[tuple[str, str], ...] = (),
    ) -> Weighed | None:
        """The full verdict if it is there already, None if it would have to be waited for."""
        key = Ask("verdict", form, day, self._packs(), (), answered).key
        with self._lock:
            return cast("Weighed | None", self._verdicts.get(key))

    def quiet_for(self) -> float:
        """Seconds since somebody asked for a strip or a verdict."""
        return time.monotonic() - self._asked_at

    async def report(self, form: Mapping[str, Any], *, day: str) -> str:
        """The report as one HTML page; '' where there is no verdict."""
        ask = Ask("report", form, day, self._packs())
        return cast("str", await _answered(self._full.ask(ask), ask))

    async def _asked(
        self, lane: Lane, held: OrderedDict[str, object], most: int, ask: Ask, owner: str
    ) -> object:
        """The answer, from what is held or under way where it can be."""
        key = ask.key
        with self._lock:
            if key in held:
                held.move_to_end(key)
                return held[key]
            future = self._flying.get(key)
            if future is None:
                future = self._flying[key] = lane.ask(ask, owner)
                future.add_done_callback(lambda done: self._landed(done, key, held, most))
        return await _answered(future, ask)

    def _landed(
        self, done: Future[Any], key: str, held: OrderedDict[str, object], most: int
    ) -> None:
        """Hold an answer under the form that was weighed in the end."""
        with self._lock:
            self._flying.pop(key, None)
            if done.cancelled() or done.exception() is not None:
                return
            weighed, value = done.result()
            held[weighed.key] = value
            while len(held) > most:
                held.popitem(last=False)


async def _answered(future: Future[Any], ask: Ask) -> object:
    try:
        # shielded: somebody else may be waiting for the same answer
        _, value = await asyncio.shield(asyncio.wrap_future(future))
    except (WorkerDied, WorkFailed, LaneClosed) as error:
        return in_trouble(ask, f"a fault in Endbell itself: {error}")
    return value
