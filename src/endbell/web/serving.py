"""The server itself: its socket, its address, its clean stop."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace

import uvicorn
from fastapi import FastAPI

from .app import create_app
from .settings import Settings

LOCAL, EVERYWHERE = "127.0.0.1", "0.0.0.0"
BACKLOG = 512
GRACE_SECONDS = 5
HELD_CONNECTIONS = 1000


class Serving:
    """A workbench that listens already; :meth:`run` answers until it is stopped."""

    def __init__(self, settings: Settings, port: int) -> None:
        self._socket = listening(EVERYWHERE if settings.lan else LOCAL, port)
        self.port: int = self._socket.getsockname()[1]
        self.address = f"http://{LOCAL}:{self.port}"
        if settings.lan:
            here = lan_address()
            settings = replace(
                settings,
                hosts=(*settings.hosts, here),
                base_url=settings.base_url or f"http://{here}:{self.port}",
            )
        self.settings = settings
        try:
            self.app: FastAPI = create_app(settings)
        except BaseException:
            self._socket.close()
            raise

    def lines(self) -> Iterator[str]:
        """What is said at the start, besides the address."""
        desk = self.app.state.desk
        if not desk.has_accounts():
            yield f"First start: open {self.address}/setup and type the code {desk.setup_code}"
        if self.settings.lan:
            yield f"For a phone: sign in here, then Settings, 'A phone' ({self.settings.base_url})"
        yield "Ctrl-C stops it."

    def run(self) -> None:
        """Answer requests until a signal stops it; open ones are finished first."""
        config = uvicorn.Config(
            self.app,
            log_level="warning",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            timeout_keep_alive=30,
            timeout_graceful_shutdown=GRACE_SECONDS,
            limit_concurrency=HELD_CONNECTIONS,
            h11_max_incomplete_event_size=64 * 1024,
        )
        with suppress(KeyboardInterrupt):  # raised again once all is closed
            uvicorn.Server(config).run(sockets=[self._socket])


def listening(host: str, port: int) -> socket.socket:
    """A socket that listens there.  Raises :class:`CannotListen` where another one does."""
    # asyncio sends small answers at once (TCP_NODELAY) only where the protocol is named
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((host, port))
        made.listen(BACKLOG)
    except OSError as error:
        made.close()
        raise CannotListen(
            f"port {port} can't be used ({(error.strerror or 'refused').lower()}); "
            "accepted: another one with --port, or 0 for any that is free"
        ) from None
    return made


class CannotListen(Exception):
    """The port can't be used."""


def lan_address() -> str:
    """This machine's address in its network; nothing is sent to find it."""
    probe = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        # an address for documentation: choosing a route to it sends nothing
        probe.connect(("192.0.2.1", 9))
        return probe.getsockname()[0]
    except OSError:
        return LOCAL
    finally:
        probe.close()
