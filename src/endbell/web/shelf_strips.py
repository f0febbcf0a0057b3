"""Strips for the rows that somebody looks at and that have none: a few at a time, behind the rest.

What nobody looks at is brought up to date by ``strips_fill`` when there is time.
"""

from __future__ import annotations

import asyncio
import logging
from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, field
from weakref import WeakKeyDictionary

from ..store import NoDossier, state_of
from .asking import day_of
from .desk import Desk
from .strips_kept import keep

MOST = 200
"""Dossiers that wait; the list that was looked at last comes first."""

_log = logging.getLogger(__name__)


@dataclass
class _Queue:
    waiting: OrderedDict[str, None] = field(default_factory=OrderedDict[str, None])
    task: asyncio.Task[None] | None = None


_QUEUES: WeakKeyDictionary[Desk, _Queue] = WeakKeyDictionary()


def want_strips(desk: Desk, dossiers: Iterable[str]) -> None:
    """Have these weighed, one after the other; called within the event loop."""
    queue = _QUEUES.setdefault(desk, _Queue())
    for dossier in reversed(list(dossiers)):
        queue.waiting[dossier] = None
        queue.waiting.move_to_end(dossier, last=False)
    while len(queue.waiting) > MOST:
        queue.waiting.popitem()
    if queue.waiting and (queue.task is None or queue.task.done()):
        queue.task = asyncio.create_task(_work(desk, queue))


async def _work(desk: Desk, queue: _Queue) -> None:
    while queue.waiting and not desk.hub.closed:
        dossier, _ = queue.waiting.popitem(last=False)
        try:
            state = await asyncio.to_thread(state_of, desk.db, dossier)
            strip = await desk.weigher.strip(state.form(), day=day_of(state), quietly=True)
            await asyncio.to_thread(keep, desk.db, state, strip)
        except NoDossier:
            continue
        except Exception:  # the list stays usable; the next look at it tries again
            if not desk.hub.closed:
                _log.warning("no strip for %s", dossier, exc_info=True)
            return
