"""A cheap client for load: requests go out when they are due, whatever is still unanswered."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from urllib.parse import urlsplit

PATIENCE = 30.0
"""Seconds after which a request counts as not answered."""

STALE = 20.0
"""Seconds after which a connection is not used again: the server lets go of it after thirty."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One request.  ``name``: its class; ``good``: what it should be answered with."""

    name: str
    path: str
    method: str = "GET"
    headers: Mapping[str, str] = field(default_factory=dict[str, str])
    body: bytes = b""
    good: tuple[int, ...] = (200,)


@dataclass(slots=True)
class Answer:
    """How one went: milliseconds from when it was due, the status (0: none), what was wrong."""

    asked: Asked
    ms: float
    status: int
    bytes: int
    wrong: str = ""


class Lines:
    """Connections to a server that are used again."""

    def __init__(self, address: str, headers: Mapping[str, str]) -> None:
        at = urlsplit(address)
        self.host, self.port = at.hostname or "", at.port or 80
        self._common = {"Host": at.netloc, "Accept-Encoding": "gzip", **headers}
        self._free: list[tuple[float, asyncio.StreamReader, asyncio.StreamWriter]] = []
        self.most = self._open = 0

    async def ask(self, asked: Asked, due: float) -> Answer:
        """Ask and read the answer to its end."""
        try:
            status, body = await asyncio.wait_for(self._exchange(asked), PATIENCE)
        except (OSError, TimeoutError, asyncio.IncompleteReadError, ValueError) as error:
            return Answer(asked, 1000 * (time.perf_counter() - due), 0, 0, repr(error))
        ms = 1000 * (time.perf_counter() - due)
        wrong = "" if status in asked.good else f"{asked.method} {asked.path}: {status}"
        return Answer(asked, ms, status, len(body), wrong)

    async def stream(self, path: str) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        """A connection that has asked for ``path``; its answer goes on and on."""
        reader, writer = await asyncio.open_connection(self.host, self.port)
        writer.write(self._head(Asked("stream", path), {"Accept-Encoding": "identity"}))
        await reader.readuntil(b"\r\n\r\n")
        return reader, writer

    def close(self) -> None:
        """Let go of what is free."""
        for _, _, writer in self._free:
            writer.close()

    async def _exchange(self, asked: Asked) -> tuple[int, bytes]:
        while self._free and time.monotonic() - self._free[0][0] > STALE:
            self._free.pop(0)[2].close()
            self._open -= 1
        if self._free:
            _, reader, writer = self._free.pop()
        else:
            reader, writer = await asyncio.open_connection(self.host, self.port)
            self._open += 1
            self.most = max(self.most, self._open)
        try:
            writer.write(self._head(asked, {}) + asked.body)
            status, body, stays = await _answer(reader)
        except BaseException:
            writer.close()
            self._open -= 1
            raise
        if stays:
            self._free.append((time.monotonic(), reader, writer))
        else:
            writer.close()
            self._open -= 1
        return status, body

    def _head(self, asked: Asked, more: Mapping[str, str]) -> bytes:
        headers = {**self._common, **asked.headers, **more}
        if asked.body:
            headers["Content-Length"] = str(len(asked.body))
        lines = [f"{asked.method} {asked.path} HTTP/1.1"]
        lines += [f"{name}: {value}" for name, value in headers.items()]
        return ("\r\n".join(lines) + "\r\n\r\n").encode()


async def at_rate(lines: Lines, requests: Iterable[Asked], a_second: float) -> list[Answer]:
    """Ask each when it is due, so many a second, and wait for the last answers."""
    began = time.perf_counter() + 0.1
    tasks: list[asyncio.Task[Answer]] = []
    for n, asked in enumerate(requests):
        due = began + n / a_second
        late = due - time.perf_counter()
        if late > 0:
            await asyncio.sleep(late)
        tasks.append(asyncio.create_task(lines.ask(asked, due)))
    return await asyncio.gather(*tasks)


async def _answer(reader: asyncio.StreamReader) -> tuple[int, bytes, bool]:
    head = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1").split("\r\n")
    status = int(head[0].split(" ")[1])
    named = {k.lower(): v.strip() for k, _, v in (line.partition(":") for line in head[1:])}
    stays = named.get("connection", "").lower() != "close"
    if named.get("transfer-encoding", "") == "chunked":
        return status, await _chunks(reader), stays
    length = int(named.get("content-length", "0"))
    return status, await reader.readexactly(length) if length else b"", stays


async def _chunks(reader: asyncio.StreamReader) -> bytes:
    body = b""
    while size := int((await reader.readline()).split(b";")[0], 16):
        body += await reader.readexactly(size)
        await reader.readexactly(2)
    await reader.readline()
    return body
