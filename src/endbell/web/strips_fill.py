"""The strips of dossiers that nobody has open, weighed little by little while there is time.

After an import, a change of the packs or of the code that weighs, lists show old strips or none:
this brings them up to date, a batch at a time, and rests as long as it has worked.
"""

from __future__ import annotations

import asyncio
import logging
import time
from typing import TYPE_CHECKING

from ..batch.code import made_by
from ..store import NoDossier, state_of
from ..store.strips import strips_behind
from .asking import day_of
from .strips_kept import keep_all
from .weighed import Strip, signed

if TYPE_CHECKING:
    from ..store import DossierState
    from .desk import Desk

BATCH = 40
QUIET_SECONDS = 5.0
"""Nothing is weighed here until nobody has asked for a verdict for so long."""

LOOK_SECONDS = 20.0
"""Between two looks for dossiers that have no strip, while there is none."""

_log = logging.getLogger(__name__)


async def fill_once(desk: Desk) -> int:
    """Weigh and keep one batch; how many there were."""
    wanted = signed(made_by(), desk.packs.now())
    found = await asyncio.to_thread(strips_behind, desk.db, wanted, BATCH)
    made: list[tuple[DossierState, Strip]] = []
    for dossier in found:
        if desk.hub.closed:
            return 0
        try:
            state = await asyncio.to_thread(state_of, desk.db, dossier)
        except NoDossier:
            continue
        strip = await desk.weigher.strip(state.form(), day=day_of(state), quietly=True)
        made.append((state, strip))
    if made:
        await asyncio.to_thread(keep_all, desk.db, made)
    return len(made)


async def fill(desk: Desk) -> None:
    """Go on until the server stops."""
    while not desk.hub.closed:
        try:
            began = time.monotonic()
            if desk.weigher.quiet_for() < QUIET_SECONDS:
                await asyncio.sleep(1.0)
                continue
            count = await fill_once(desk)
            rest = time.monotonic() - began if count else LOOK_SECONDS
        except Exception:  # a full disk, a database that is away: later again
            if desk.hub.closed:
                return
            _log.warning("strips were not brought up to date", exc_info=True)
            rest = LOOK_SECONDS
        await asyncio.sleep(rest)
