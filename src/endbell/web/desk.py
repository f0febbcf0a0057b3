"""What all screens share: the open database, the hub, the weigher, the packs."""

from __future__ import annotations

import asyncio
import inspect
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

from fastapi import Request

from ..store import Database
from ..store.accounts import any_account
from .settings import Settings
from .shop_packs import ShopPacks

if TYPE_CHECKING:
    from .assets import Assets
    from .hub import Hub
    from .passwords import Passwords
    from .weigher import Weigher


@dataclass(eq=False)
class Desk:
    """The shared parts, at ``app.state.desk``.

    ``setup_code``: what the first owner has to type, while there is no account.
    """

    settings: Settings
    db: Database
    packs: ShopPacks
    hub: Hub
    assets: Assets
    passwords: Passwords
    setup_code: str = field(default_factory=lambda: f"{secrets.randbelow(10**8):08d}", repr=False)
    clock: Callable[[], datetime] = lambda: datetime.now(UTC)
    accounts_seen: bool = False

    @cached_property
    def weigher(self) -> Weigher:
        """The engine behind the pages; its processes start when it is first needed."""
        from .weigher import Weigher

        return Weigher(self.packs.now)

    def now(self) -> datetime:
        """This instant, UTC."""
        return self.clock()

    def today(self) -> date:
        """The day, where this machine stands."""
        return self.clock().astimezone().date()

    def has_accounts(self) -> bool:
        """Whether somebody has an account; once one is there it stays."""
        if not self.accounts_seen:
            self.accounts_seen = any_account(self.db)
        return self.accounts_seen

    async def start(self) -> None:
        """Called once, when the server starts."""
        if self.settings.warm:
            self.weigher.warm({"format": "endbell-dossier/1"}, self.today().isoformat())
        await _called(self.hub, "start")

    async def close(self) -> None:
        """Called once, when it stops."""
        await _called(self.hub, "close")
        if "weigher" in self.__dict__:
            await asyncio.to_thread(self.weigher.close)
        self.db.close()


def desk_of(request: Request) -> Desk:
    """The desk of the application that answers ``request``."""
    return request.app.state.desk


async def _called(part: Any, name: str) -> None:
    method = getattr(part, name, None)
    if method is not None:
        answer = method()
        if inspect.isawaitable(answer):
            await answer
