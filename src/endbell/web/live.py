"""After a change: the strip at once, the full verdict when it is there, and every page told.

Whoever records something in a dossier calls :func:`changed` (or :func:`changed_soon` outside the
event loop) and is done.
"""

from __future__ import annotations

import asyncio
import logging
from collections import OrderedDict
from collections.abc import Coroutine
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any
from weakref import WeakKeyDictionary

from ..batch.code import made_by
from ..store import DossierState, NoDossier, state_of
from .asking import answered_of, day_of
from .desk import Desk
from .fragments import fragment
from .strips_fill import fill
from .strips_kept import current, keep
from .weighed import Strip, Weighed, signed

LASTS = 80
"""Dossiers whose last full verdict is held, to be shown while the next one is being weighed."""

PATIENCE = 0.4
"""Seconds that a page waits for a new verdict before it shows the last one."""

QUIET = 0.3
"""Seconds without a further entry, after which a strip is kept for lists."""

AGAIN = 4
"""Times that a verdict is asked for anew because somebody changed the dossier meanwhile."""

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Seen:
    """A full verdict and the state it was weighed from.  ``current``: nothing is newer."""

    state: DossierState
    weighed: Weighed
    current: bool


@dataclass(eq=False)
class _Live:
    """What is held beside a desk."""

    last: OrderedDict[str, tuple[DossierState, Weighed]] = field(
        default_factory=OrderedDict[str, tuple[DossierState, Weighed]]
    )
    newest: dict[str, int] = field(default_factory=dict[str, int])
    tasks: set[asyncio.Task[Any]] = field(default_factory=set[asyncio.Task[Any]])
    loop: asyncio.AbstractEventLoop | None = None
    filling: asyncio.Task[None] | None = None


_LIVE: WeakKeyDictionary[Desk, _Live] = WeakKeyDictionary()


def _live(desk: Desk) -> _Live:
    """What is held beside ``desk``; made with the first page that shows a verdict."""
    live = _LIVE.get(desk)
    if live is None:
        live = _LIVE[desk] = _Live()
    if live.filling is None and desk.settings.warm:
        with suppress(RuntimeError):  # no loop in this thread: the next page will do it
            live.filling = asyncio.get_running_loop().create_task(fill(desk))
    return live


async def strip_of(desk: Desk, state: DossierState) -> Strip:
    """The verdict in brief of a dossier as it is in ``state``: as it was kept, or weighed now."""
    made = signed(made_by(), desk.packs.now())
    held = await asyncio.to_thread(current, desk.db, state, made)
    return held if held is not None else await _brief(desk, state)


async def _brief(desk: Desk, state: DossierState) -> Strip:
    return await desk.weigher.strip(state.form(), day=day_of(state), owner=state.id)


async def preview(desk: Desk, state: DossierState, form: dict[str, Any], who: str) -> Strip:
    """The strip as it would be with ``form``, which is only typed yet.

    ``who``: whose typing it is; a newer preview of theirs takes the place of one that waits.
    """
    return await desk.weigher.strip(form, day=day_of(state), owner=f"{state.id} {who}", glance=True)


async def changed(desk: Desk, dossier: str, state: DossierState | None = None) -> Strip:
    """Tell every page of ``dossier`` that it has changed; gives the new strip.

    ``state``: as ``append`` gave it.  The full verdict is weighed in the background and told when
    it is there.
    """
    live = _live(desk)
    live.loop = asyncio.get_running_loop()
    now = state if state is not None else await asyncio.to_thread(state_of, desk.db, dossier)
    newest = live.newest.get(dossier, 0) <= now.version
    if newest:
        live.newest[dossier] = now.version
        desk.hub.publish(dossier, "changed", str(now.version))
    strip = await _brief(desk, now)
    if live.newest.get(dossier, 0) <= now.version:
        desk.hub.publish(dossier, "strip", strip_html(now, strip))
        _soon(live, _keep_strip(desk, now, strip))
        _soon(live, _weigh_in_full(desk, now))
    return strip


def changed_soon(desk: Desk, dossier: str) -> None:
    """As :func:`changed`, from any thread, without waiting for anything."""
    live = _live(desk)
    loop = live.loop or getattr(desk.hub, "loop", None)
    if loop is None or loop.is_closed():
        return  # nobody has a page open, and nobody is told
    asyncio.run_coroutine_threadsafe(_changed_quietly(desk, dossier), loop)


async def seen(desk: Desk, state: DossierState, *, wait: bool = False) -> Seen:
    """The full verdict; after a short while the last one instead, unless ``wait`` is set."""
    live = _live(desk)
    live.loop = asyncio.get_running_loop()
    form, day, answered = state.form(), day_of(state), answered_of(state)
    held = desk.weigher.verdict_if_held(form, day=day, answered=answered)
    if held is not None:
        return Seen(state, held, current=True)
    last = live.last.get(state.id)
    task = _soon(live, _weighed(desk, state))
    done, _ = await asyncio.wait({task}, timeout=None if wait or last is None else PATIENCE)
    if not done and last is not None:
        return Seen(*last, current=False)
    return Seen(*task.result(), current=True)


def strip_html(state: DossierState, strip: Strip) -> str:
    """The strip as it stands on the page."""
    return fragment("live/strip.html", dossier=state, strip=strip, what_if=False)


async def _weighed(desk: Desk, state: DossierState) -> tuple[DossierState, Weighed]:
    """The full verdict and the state that it was weighed from, which may be a newer one."""
    live, weigher = _live(desk), desk.weigher
    for _ in range(AGAIN):
        form, day, answered = state.form(), day_of(state), answered_of(state)
        weighed = await weigher.verdict(form, day=day, owner=state.id, answered=answered)
        held = weigher.verdict_if_held(form, day=day, answered=answered)
        if held is weighed or weighed.trouble:
            break
        # somebody changed the dossier meanwhile and asked for that: this is its answer
        state = await asyncio.to_thread(state_of, desk.db, state.id)
    before = live.last.get(state.id)
    if before is None or before[0].version <= state.version:
        live.last[state.id] = state, weighed
        live.last.move_to_end(state.id)
        while len(live.last) > LASTS:
            live.last.popitem(last=False)
    return state, weighed


async def _weigh_in_full(desk: Desk, state: DossierState) -> None:
    state, _ = await _weighed(desk, state)
    if _live(desk).newest.get(state.id, 0) <= state.version:
        desk.hub.publish(state.id, "verdict", str(state.version))


async def _changed_quietly(desk: Desk, dossier: str) -> None:
    try:
        await changed(desk, dossier)
    except NoDossier:
        _log.warning("told of a change in a dossier that is not there: %s", dossier)


async def settled(desk: Desk) -> None:
    """Wait until everything that was begun in the background is done."""
    while tasks := [task for task in _live(desk).tasks if task is not asyncio.current_task()]:
        await asyncio.wait(tasks)


async def _keep_strip(desk: Desk, state: DossierState, strip: Strip) -> None:
    """Keep the strip for lists, once nobody is typing any more."""
    await asyncio.sleep(QUIET)
    if _live(desk).newest.get(state.id, 0) <= state.version:
        await asyncio.to_thread(keep, desk.db, state, strip)


def _soon(live: _Live, work: Coroutine[Any, Any, Any]) -> asyncio.Task[Any]:
    """A task that is held on to until it is done."""
    task = asyncio.create_task(work)
    live.tasks.add(task)
    task.add_done_callback(live.tasks.discard)
    return task
