"""How one workbench is set up; nothing here is read from anywhere else."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from ..store.sessions import ABSOLUTE, IDLE

LOCAL_HOSTS = ("127.0.0.1", "localhost", "[::1]")


@dataclass(frozen=True, slots=True)
class HashCost:
    """How dear a password hash is made (Argon2id).  Cheaper ones are for tests alone."""

    passes: int = 3
    memory_kib: int = 64 * 1024
    lanes: int = 4


@dataclass(frozen=True, slots=True)
class Settings:
    """``data``: the folder of the database and the photos; ``database``: a PostgreSQL URL.

    ``lan``: phones of the same network may come in.  ``base_url``: the address that they are shown,
    as ``http://192.168.1.5:8484``.  ``hosts``: the names under which the workbench answers, besides
    this machine's own.  ``https``: cookies are sent over https only.
    ``warm``: load the engine when the server starts instead of at the first entry.
    """

    data: Path
    database: str | None = None
    lan: bool = False
    base_url: str = ""
    hosts: tuple[str, ...] = ()
    https: bool = False
    warm: bool = False
    hash_cost: HashCost = HashCost()
    idle: timedelta = IDLE
    absolute: timedelta = ABSOLUTE

    @property
    def allowed_hosts(self) -> frozenset[str]:
        """Every name under which it answers, without a port."""
        return frozenset(host.lower() for host in (*LOCAL_HOSTS, *self.hosts))
